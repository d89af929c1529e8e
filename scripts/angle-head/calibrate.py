"""Fits how a head's stated scale becomes a standard deviation.

    python3 calibrate.py layout=layout.json predictions=a.pt,b.pt out=calibration.json

predictions.pt comes from train.py keep=1; of several heads the ensemble is
calibrated. For each kind of joint sd = factor * scale ** power, in degrees:
the power makes small and large scales equally honest, the factor puts 68 % of
the errors inside one sd. Fitted on the rendered test hands of the meshes with
even numbers, and reported on those with odd numbers, joints in sight.
"""
import json
import sys

import torch

from layout import KINDS, Labels, SCALE, split
from metrics import AFTER_OF, POINT_OF


def ensemble(paths, part):
    """Angles and scales in degrees, and labels, of the mean of all heads."""
    angles, logs, labels = [], [], None
    for p in paths:
        out, _, labels = torch.load(p, map_location="cpu")[part]
        for o in out.values():
            o = split(o.float())
            angles.append(o["angles"] * SCALE)
            logs.append(o["logscale"].clamp(-5, 2))
    return torch.stack(angles).mean(0), torch.stack(logs).mean(0).exp() * SCALE, labels.float()


def fit(e, b):
    """factor and power for errors e and scales b."""
    best = None
    for power in [x / 20 for x in range(10, 41)]:
        s = b ** power
        factor = torch.quantile(e / s, .6827)
        inside = [(q <= factor * r).float().mean() for q, r in zip(*(v[b.argsort()].chunk(5) for v in (e, s)))]
        two = (e <= 2 * factor * s).float().mean()
        cost = torch.stack(inside).std() + (two - .954).abs()
        if best is None or cost < best[0]:
            best = (cost, float(factor), power)
    return best[1:]


def main():
    a = dict(x.split("=", 1) for x in sys.argv[1:])
    labels = Labels(a["layout"])
    angles, scale, y = ensemble(a["predictions"].split(","), "test")
    e = (angles - labels.get(y, "flexion")).abs()
    v = labels.get(y, "visible") > .5
    seen = v[:, POINT_OF] & v[:, AFTER_OF]
    even = labels.get(y, "mesh")[:, 0].long() % 2 == 0
    out = {"factor": [0.0] * 14, "power": [0.0] * 14}
    for kind, js in KINDS.items():
        m = seen[even][:, js]
        f, p = fit(e[even][:, js][m], scale[even][:, js][m])
        m = seen[~even][:, js]
        q, s = e[~even][:, js][m], f * scale[~even][:, js][m] ** p
        h = ~seen[~even][:, js]
        qh, sh = e[~even][:, js][h], f * scale[~even][:, js][h] ** p
        print(f"{kind}: factor {f:.3f} power {p:.2f}; other meshes: inside 1 sd {(q < s).float().mean():.3f}, 2 sd {(q < 2 * s).float().mean():.3f};"
              f" joints out of sight {(qh < sh).float().mean():.3f}, {(qh < 2 * sh).float().mean():.3f}")
        for j in js:
            out["factor"][j], out["power"][j] = round(f, 4), p
    with open(a["out"], "w") as w:
        json.dump(out, w)


if __name__ == "__main__":
    main()

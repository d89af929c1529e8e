"""What a head is judged by. Predictions are in degrees; every function returns
a dictionary of plain numbers."""
import torch
import torch.nn.functional as F

from data import bend
from layout import DIP, MCP, PIP, SCALE, THUMB

POINT_OF = [5, 6, 7, 9, 10, 11, 13, 14, 15, 17, 18, 19, 2, 3]
AFTER_OF = [6, 7, 8, 10, 11, 12, 14, 15, 16, 18, 19, 20, 3, 4]


def num(x, d=2):
    return round(float(x), d)


def auc(low, high):
    """Probability that a value of low lies under one of high."""
    s = torch.cat([low, high]).argsort().argsort().double()
    n, m = len(low), len(high)
    return 1 - ((s[:n].sum() - n * (n - 1) / 2) / (n * m)).item()


def rendered(angles, sd, labels, y):
    """Mean absolute errors on rendered hands: all, where the joint and the
    point after it are in sight, by view, and how honest the spread is."""
    t, v = labels.get(y, "flexion"), labels.get(y, "visible") > .5
    seen = v[:, POINT_OF] & v[:, AFTER_OF]
    e = (angles - t).abs()
    yaw = labels.get(y, "view")[:, 0]
    yaw = (yaw + 180) % 360 - 180
    r = {}
    for name, js in (("mcp", MCP), ("pip", PIP), ("dip", DIP), ("thumb", THUMB)):
        k, s = e[:, js], seen[:, js]
        r[name] = dict(all=num(k.mean()), seen=num(k[s].mean()), hidden=num(k[~s].mean()), over20=num((k[s] > 20).float().mean(), 4),
                       in1=num((k < sd[:, js])[s].float().mean(), 3), in2=num((k < 2 * sd[:, js])[s].float().mean(), 3),
                       in1all=num((k < sd[:, js]).float().mean(), 3), in2all=num((k < 2 * sd[:, js]).float().mean(), 3))
    for a, b in ((0, 30), (30, 60), (60, 120), (120, 180), (-60, 0), (-120, -60), (-180, -120)):
        i = (yaw >= a) & (yaw < b)
        if i.sum() > 5:
            r[f"yaw{a}..{b}"] = [num(e[i][:, js][seen[i][:, js]].mean()) for js in (MCP, PIP, DIP)]
    b = angles - t
    for lo, hi in ((-30, -5), (-5, 15), (15, 60), (60, 120)):
        m = seen[:, PIP] & (t[:, PIP] >= lo) & (t[:, PIP] < hi)
        r[f"pip bias {lo}..{hi}"] = [num(b[:, PIP][:, k][m[:, k]].mean(), 1) if m[:, k].any() else None for k in range(4)]
    return r


def hyperextension(angles, labels, y):
    """Straight against hyperextended fingers, by the cells of the generator's
    hyper mode: tag = 4 * view + step, steps 0, -10, -15, -20 degrees."""
    tag = labels.get(y, "tag")[:, 0].long()
    p, r = angles[:, PIP], {}
    for name, views in (("side", (0, 1, 2)), ("oblique", (3,)), ("palm", (4,))):
        for who, f in (("nearest", slice(0, 1)), ("all", slice(0, 4))):
            g = [torch.cat([p[tag == 4 * v + s][:, f].flatten() for v in views]) for s in range(4)]
            if min(len(q) for q in g) < 3:
                continue
            at = torch.quantile(g[0], .01)
            r[f"{name} {who}"] = dict(mean=[num(q.mean(), 1) for q in g], mae=[num((q - w).abs().mean(), 1) for q, w in zip(g, (0, -10, -15, -20))],
                                      auc=[num(auc(q, g[0]), 3) for q in g[1:]], found_at_1pc=[num((q < at).float().mean(), 3) for q in g[1:]], cut=num(at, 1),
                                      below6=[num((q < -6).float().mean(), 3) for q in g])
    return r


def photographs(pred, truth):
    """pred: kind -> N x 4 degrees; truth: kind -> N x 4 unsigned bends."""
    r = {}
    for kind, p in pred.items():
        t = truth[kind]
        e = p.abs() - t
        m = e.median(0).values
        r[kind] = dict(mae=num(e.abs().mean()), over20=num((e.abs() > 20).float().mean(), 4), bias=[num(v, 1) for v in m.tolist()],
                       debiased=num((e - m).abs().mean()), byfinger=[num(v, 1) for v in e.abs().mean(0).tolist()],
                       bent=[num(e[:, k][t[:, k] > 40].mean(), 1) for k in range(e.shape[1])],
                       steps=[num(e[(t >= a) & (t < b)].abs().mean(), 1) for a, b in ((0, 15), (15, 40), (40, 70), (70, 130))])
    return r


def naive(h):
    """Unsigned bends from the landmark network's points: image, world, and the
    mean of both; z of the network is divided by 0.4 as its depth scale asks."""
    image = h["landmarks"].reshape(-1, 21, 3).clone()
    image[..., 2] /= 0.4
    world = h["world"].reshape(-1, 21, 3)
    kinds = ("mcp", "pip", "dip", "thumb")
    a, b = {k: bend(image, k) for k in kinds}, {k: bend(world, k) for k in kinds}
    return a, b, {k: (a[k] + b[k]) / 2 for k in kinds}


def palm(world, handedness):
    """Directions out of the palm, from the network's own points in space."""
    p = world.reshape(-1, 21, 3)
    n = torch.cross(p[:, 5] - p[:, 0], p[:, 17] - p[:, 0], dim=1)
    return F.normalize(n * torch.where(handedness.reshape(-1, 1) > .5, 1., -1.), dim=1)


def turned(normal, h):
    """Degrees between a head's palm and that of the network's own points."""
    return torch.acos((F.normalize(normal.float(), dim=1) * palm(h["world"].float(), h["handedness"].float())).sum(1).clamp(-1, 1)) * 57.29578


def counts(angles, labels):
    """Finger counts: up within -10..20 degrees at the PIP, folded above 40,
    up but below -10 or -6 (false hyperextension). labels: +1 up, -1 folded."""
    p = angles[:, PIP]
    up, down = labels > 0, labels < 0
    return dict(up=num(((p > -10) & (p < 20))[up].float().mean(), 4), folded=num((p > 40)[down].float().mean(), 4),
                below6=num((p < -6)[up].float().mean(), 4), below10=num((p < -10)[up].float().mean(), 4),
                upmean=[num(p[:, k][up[:, k]].mean(), 1) for k in range(4)], foldedmean=[num(p[:, k][down[:, k]].mean(), 1) for k in range(4)],
                upsd=num(p[up].std(), 1))


def degrees(o):
    """Angles and Laplace scales of a split head output, in degrees."""
    return o["angles"] * SCALE, torch.exp(o["logscale"].clamp(-5, 2)) * SCALE

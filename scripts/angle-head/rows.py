"""Reads pictures once and keeps what a head is given, for training without a
graphics processor:

    python3 rows.py data=FOLDER command=features reader=reader.onnx out=FOLDER [each=2] [vary=1] [photos=…] [counts=…] [counted=8000]

Every shard trainN of the data folder becomes out/trainN.pt, with each crop
photographed "each" times; test, hyper, photographs and finger counts become
files of their own. Shards that are done already are left.
"""
import os
import sys
import time

import torch

from data import read_shard
from source import PipeReader, Source


def half(rows):
    return {k: v.half() for k, v in rows.items()}


def main():
    a = dict(x.split("=", 1) for x in sys.argv[1:])
    torch.manual_seed(1)
    device = torch.device("cpu")
    out = a["out"]
    os.makedirs(out, exist_ok=True)
    s = Source(a["data"], device, PipeReader(a["command"], a["reader"]), int(a.get("seed", 5)), a.get("photos"), a.get("counts"), int(a.get("limit", 0)))

    def save(name, value):
        torch.save(value, os.path.join(out, name + ".tmp"))
        os.rename(os.path.join(out, name + ".tmp"), os.path.join(out, name + ".pt"))
        print(name, flush=True)

    fresh = lambda name: not os.path.exists(os.path.join(out, name + ".pt"))
    for name in ("test", "hyper"):
        if fresh(name) and os.path.exists(os.path.join(a["data"], name + ".done")):
            rows, y = s.tests(os.path.join(a["data"], name), .6)
            save(name, (half(rows), y))
    if s.photos and fresh("photos"):
        save("photos", (half(s.plain(s.photos)), s.truth))
    if s.counts and fresh("counts"):
        save("counts", (half(s.plain(s.counts)), s.updown, s.held))
    if s.counts and fresh("counted"):
        got = [s.counted(250) for _ in range(int(a.get("counted", 8000)) // 250)]
        save("counted", (half({k: torch.cat([g[0][k] for g in got]) for k in got[0][0]}), torch.cat([g[1] for g in got])))
    n = 0
    while n < int(a.get("shards", 10 ** 6)):
        path = os.path.join(a["data"], f"train{n}")
        while not os.path.exists(path + ".done"):
            if "shards" not in a:
                return
            time.sleep(1)
        if fresh(f"train{n}"):
            x, y = read_shard(path, s.labels.width)
            rows, ys = [], []
            for _ in range(int(a.get("each", 2))):
                for i in range(0, len(x), 250):
                    p, q = s.camera(x[i:i + 250], y[i:i + 250], float(s.r.uniform((1,), .3, 1.15)) if "vary" in a else 1.0)
                    rows.append(half(s.reader(p)))
                    ys.append(q)
            save(f"train{n}", ({k: torch.cat([r[k] for r in rows]) for k in rows[0]}, torch.cat(ys)))
        n += 1


if __name__ == "__main__":
    main()

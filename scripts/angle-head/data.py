"""Shards of rendered crops, and photographs with what is known of them."""
import contextlib
import csv
import glob
import json
import os
import threading
import time

import numpy as np
import torch
import torch.nn.functional as F

from augment import SIZE
from layout import TRIPLES


def read_shard(path, width):
    """One shard: PATH.img and PATH.lab."""
    y = np.fromfile(path + ".lab", np.float32).reshape(-1, width)
    x = np.fromfile(path + ".img", np.uint8).reshape(-1, SIZE, SIZE, 4)
    if len(x) != len(y):
        raise ValueError(f"{path}: {len(x)} pictures but {len(y)} labels")
    return torch.from_numpy(x), torch.from_numpy(y)


class Store:
    """Crops on the training device. A thread of its own takes in the shards
    PREFIX0, PREFIX1 … as the generator finishes them (it then writes an empty
    PREFIXn.done) and replaces the oldest when memory is full. Of several
    trainers side by side each takes every step-th shard from its own first
    one. A shard is deleted once as many trainers as delete says have taken it;
    they are told apart by name."""

    def __init__(self, prefix, labels, device, slots, stop, first=0, step=1, delete=0, name=0):
        self.labels, self.device, self.stop, self.name = labels, device, stop, name
        self.first, self.step, self.delete = first, step, delete
        self.x, self.y, self.ready = [], [], []
        self.slots, self.taken, self.prefix = slots, 0, prefix
        self.thread = threading.Thread(target=self._take, daemon=True)
        self.thread.start()

    def _take(self):
        stream = torch.cuda.Stream() if self.device.type == "cuda" else None
        while time.time() < self.stop:
            path = f"{self.prefix}{self.first + self.taken * self.step}"
            if not os.path.exists(path + ".done"):
                time.sleep(.2)
                continue
            x, y = read_shard(path, self.labels.width)
            slot = self.taken % self.slots
            if stream:
                with torch.cuda.stream(stream):
                    self._put(slot, x, y)
                stream.synchronize()
            else:
                self._put(slot, x, y)
            self.taken += 1
            if self.delete:
                self._leave(path)

    def _leave(self, path):
        """Deletes a shard, unless others have yet to take it. Where two are
        last at once, both may find it done."""
        open(f"{path}.taken{self.name}", "w").close()
        taken = glob.glob(path + ".taken*")
        if len(taken) >= self.delete:
            for p in [path + end for end in (".img", ".lab", ".done")] + taken:
                with contextlib.suppress(FileNotFoundError):
                    os.remove(p)

    def _put(self, slot, x, y):
        if slot == len(self.x):
            self.x.append(x.to(self.device))
            self.y.append(y.to(self.device))
        else:
            self.ready[slot] = False
            time.sleep(.3)  # batches that were picked from it are done by then
            self.x[slot].copy_(x)
            self.y[slot].copy_(y)
        if slot == len(self.ready):
            self.ready.append(True)
        self.ready[slot] = True

    def wait(self):
        while not any(self.ready):
            time.sleep(.1)

    def batch(self, n, r, parts=4):
        """Crops from a few random shards."""
        ok = [i for i, v in enumerate(self.ready) if v]
        xs, ys = [], []
        for s in np.random.randint(len(ok), size=parts):
            i = r.pick(len(self.x[ok[s]]), (n // parts,))
            xs.append(self.x[ok[s]][i])
            ys.append(self.y[ok[s]][i])
        return torch.cat(xs), torch.cat(ys)


# What is up and what is folded in each of the counts, index to little
# finger: +1 up, -1 folded or touching the thumb. Sign Language Digits Dataset.
COUNTS = {0: [-1, -1, -1, -1], 1: [1, -1, -1, -1], 2: [1, 1, -1, -1], 3: [1, 1, -1, -1], 4: [1, 1, 1, 1], 5: [1, 1, 1, 1],
          6: [1, 1, 1, -1], 7: [1, 1, -1, 1], 8: [1, -1, 1, 1], 9: [-1, 1, 1, 1]}


class Photographs:
    """Photographs with the regions that the program's own tracker shows to the
    landmark network (the crops command's crops.json), on the device."""

    def __init__(self, folder, device, limit=0):
        import cv2
        with open(os.path.join(folder, "crops.json")) as f:
            self.entries = json.load(f)
        if limit:
            self.entries = self.entries[::max(1, len(self.entries) // limit)]
        self.entries = [e for e in self.entries if e["found"]]
        self.device, self.images = device, []
        for e in self.entries:
            path = os.path.join(folder, "images", *e["path"].split("/")[-2:])
            img = cv2.imread(path)
            if img is None:
                raise FileNotFoundError(path)
            self.images.append(img[:, :, ::-1].copy())
        h = max(i.shape[0] for i in self.images)
        w = max(i.shape[1] for i in self.images)
        self.size = torch.tensor([[i.shape[1], i.shape[0]] for i in self.images], device=device).float()
        pile = np.zeros((len(self.images), h, w, 3), np.uint8)
        for k, i in enumerate(self.images):
            pile[k, :i.shape[0], :i.shape[1]] = i
            pile[k, i.shape[0]:, :i.shape[1]] = i[-1:]
            pile[k, :, i.shape[1]:] = pile[k, :, i.shape[1] - 1:i.shape[1]]
        self.pile = torch.from_numpy(pile).to(device)
        self.region = torch.tensor([[e["Region"][k] if "Region" in e else e["region"][k] for k in ("CX", "CY", "Size", "Rotation")]
                                    for e in self.entries], device=device).float()

    def __len__(self):
        return len(self.entries)

    def crops(self, i, scale=None, turn=None, dx=None, dy=None, flip=None):
        """Crops of pictures i (indices), their regions changed by the given
        factors, angles and shifts (share of the region)."""
        n = len(i)
        z = torch.zeros(n, device=self.device)
        scale, turn = z + 1 if scale is None else scale, z if turn is None else turn
        dx, dy = z if dx is None else dx, z if dy is None else dy
        cx, cy, size, rot = self.region[i].unbind(1)
        size, rot = size * scale, rot + turn
        h, w = self.pile.shape[1:3]
        c, s = torch.cos(rot), torch.sin(rot)
        cx, cy = cx + (dx * c - dy * s) * size, cy + (dx * s + dy * c) * size
        f = z + 1 if flip is None else flip
        g = torch.arange(SIZE, device=self.device).float() / SIZE + .5 / SIZE - .5
        u, v = g[None, None, :] * f[:, None, None], g[None, :, None]
        e = lambda t: t[:, None, None]
        x = e(cx) + e(size) * (u * e(c) - v * e(s))
        y = e(cy) + e(size) * (u * e(s) + v * e(c))
        grid = torch.stack([x / w * 2 - 1, y / h * 2 - 1], 3)
        pic = self.pile[i].permute(0, 3, 1, 2).float() / 255
        return F.grid_sample(pic, grid, padding_mode="border", align_corners=False)


def count_labels(photos, device):
    """+1 up, -1 folded for the four fingers of each picture; the folder names
    the count."""
    return torch.tensor([COUNTS[int(e["path"].split("/")[-2])] for e in photos.entries], device=device).float()


def bend(p, kind):
    """Unsigned bends in degrees at the four joints of a kind; p: B x 21 x 3."""
    out = []
    for a, b, c in TRIPLES[kind]:
        u, v = F.normalize(p[:, b] - p[:, a], dim=1), F.normalize(p[:, c] - p[:, b], dim=1)
        out.append(torch.acos((u * v).sum(1).clamp(-1 + 1e-6, 1 - 1e-6)) * 57.29578)
    return torch.stack(out, 1)


def truth_points(folder, entries):
    """3-D points of the evaluation photographs, from their truth.csv."""
    with open(os.path.join(folder, "truth.csv")) as f:
        rows = {r[0]: [float(v) for v in r[5:]] for r in list(csv.reader(f))[1:]}
    return torch.tensor([rows[os.path.basename(e["path"])] for e in entries]).reshape(-1, 21, 3)




class Cache:
    """A ring of what the landmark network said of pictures, on the device:
    the newest size entries, from which batches are drawn. Maps lie there with
    their channels last, which a graphics processor works on faster."""

    def __init__(self, size):
        self.size, self.n, self.at, self.rows = size, 0, 0, None

    def put(self, rows):
        b = len(next(iter(rows.values())))
        rows = {k: v.permute(0, 2, 3, 1) if v.ndim == 4 else v for k, v in rows.items()}
        if self.rows is None:
            self.size -= self.size % b
            self.rows = {k: torch.empty((self.size, *v.shape[1:]), dtype=v.dtype, device=v.device) for k, v in rows.items()}
        for k, v in rows.items():
            self.rows[k][self.at:self.at + b] = v
        self.at = (self.at + b) % self.size
        self.n = min(self.n + b, self.size)

    def batch(self, n, r):
        i = r.pick(self.n, (n,))
        return {k: v[i].permute(0, 3, 1, 2) if v.ndim == 4 else v[i] for k, v in self.rows.items()}

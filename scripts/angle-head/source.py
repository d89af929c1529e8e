"""Pictures as the landmark network reads them: rendered crops photographed by
augment.Camera, and photographs, turned into rows of what a head is given."""
import os
import subprocess
import threading

import numpy as np
import torch

from augment import Camera, Random
from data import Photographs, Store, bend, count_labels, read_shard, truth_points
from head import MAPS, Reader
from landmark_net import LandmarkNet
from layout import Labels

KINDS = ("mcp", "pip", "dip", "thumb")


class NetReader:
    """Reads with PyTorch, on the device that trains."""

    def __init__(self, model, device):
        self.half = device.type == "cuda"
        self.net, self.reader = LandmarkNet(model).to(device).eval(), Reader().to(device)
        if self.half:
            self.net = self.net.half().to(memory_format=torch.channels_last)

    @torch.no_grad()
    def __call__(self, x):
        if self.half:
            x = x.half().contiguous(memory_format=torch.channels_last)
        h = self.reader(self.net(x.to(next(self.net.parameters()).dtype)))
        return {k: v.half().contiguous() if self.half else v for k, v in h.items()}


class PipeReader:
    """Reads with the features command, for computers without a graphics
    processor."""

    def __init__(self, command, graph):
        self.command = [command, "-model", graph]

    def __call__(self, x):
        pictures = (x.clamp(0, 1) * 255).round().byte().permute(0, 2, 3, 1).contiguous().numpy()
        p = subprocess.Popen(self.command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

        def feed():
            p.stdin.write(pictures.tobytes())
            p.stdin.close()

        t = threading.Thread(target=feed)
        t.start()
        out = p.stdout.read()
        t.join()
        if p.wait() != 0:
            raise RuntimeError("the features command failed")
        rows = torch.from_numpy(np.frombuffer(out, np.float32).reshape(len(x), -1).copy())
        parts = rows.split(list(Reader.WIDTHS.values()), 1)
        rows = dict(zip(Reader.WIDTHS, parts))
        for k, shape in Reader.SHAPES.items():
            rows[k] = rows[k].reshape(-1, *shape)
        return rows


class Source:
    """data: folder with layout.json, backgrounds.rgb and shards; photos and
    counts: folders of photographs, or none."""

    # Every fifth person of the finger counts is left out of training.
    HELD = 5

    def __init__(self, data, device, reader, seed, photos=None, counts=None, limit=0):
        self.data, self.device, self.reader = data, device, reader
        self.labels = Labels(os.path.join(data, "layout.json"))
        self.r = Random(device, seed)
        back = np.fromfile(os.path.join(data, "backgrounds.rgb"), np.uint8).reshape(-1, 256, 256, 3)
        self.backgrounds = torch.from_numpy(back).to(device)
        self.camera = Camera(device, self.backgrounds, self.labels, seed + 1, device.type == "cuda")
        self.photos = self.counts = None
        if photos:
            self.photos = Photographs(photos, device, limit)
            p = truth_points(photos, self.photos.entries).to(device)
            self.truth = {k: bend(p, k) for k in KINDS}
        if counts:
            self.counts = Photographs(counts, device, limit)
            self.updown = count_labels(self.counts, device)
            # A person's pictures have neighbouring numbers.
            order = torch.tensor([int("".join(c for c in os.path.basename(e["path"]) if c.isdigit())) for e in self.counts.entries])
            self.held = ((order // 10) % self.HELD == 0).to(device)

    def read(self, n, pictures):
        """Rows of n pictures, which the function pictures(i, j) makes."""
        rows = [self.reader(pictures(i, min(n, i + 250))) for i in range(0, n, 250)]
        return {k: torch.cat([r[k] for r in rows]) for k in rows[0]}

    def tests(self, path, strength):
        """The rows and labels of a test shard, the same every time."""
        x, y = read_shard(path, self.labels.width)
        camera, ys = Camera(self.device, self.backgrounds, self.labels, 77), []

        def pictures(i, j):
            p, q = camera(x[i:j].to(self.device), y[i:j].to(self.device), strength, still=True)
            ys.append(q)
            return p

        return self.read(len(x), pictures), torch.cat(ys)

    def plain(self, photographs):
        return self.read(len(photographs), lambda i, j: photographs.crops(torch.arange(i, j, device=self.device)))

    def rendered(self, store, n, vary=False):
        """vary: every batch is photographed in another strength, since most
        pictures of real hands are better than the worst that training shows."""
        x, y = store.batch(n, self.r)
        x, y = self.camera(x, y, float(self.r.uniform((1,), .3, 1.15)) if vary else 1.0)
        return self.reader(x), y

    def counted(self, n):
        """Finger counts of the people that training may see, each time with
        another crop and other light: rows and which fingers are up."""
        u, train = self.r, torch.nonzero(~self.held).flatten()
        i = train[u.pick(len(train), (n,))]
        flip = torch.where(u.uniform((n,)) < .5, -1.0, 1.0)
        c = self.counts.crops(i, u.uniform((n,), .87, 1.16), u.normal((n,), .1), u.normal((n,), .025), u.normal((n,), .025), flip)
        return self.reader(self.camera.photograph(c, .8).float()), self.updown[i]

    def store(self, *how):
        return Store(os.path.join(self.data, "train"), self.labels, self.device, *how)


def wander(r, landmarks):
    """Points of half of the pictures off by about as much as they move when one
    photograph is shown turned by 10 degrees or 10 % larger or smaller, 1 to 2
    pixels on the finger counts: whole fingers and points by themselves."""
    n = len(landmarks)
    d = torch.zeros(n, 21, 3, device=landmarks.device)
    d[:, 1:, :2] = r.normal((n, 5, 1, 2), 1.2).expand(n, 5, 4, 2).reshape(n, 20, 2)
    d[:, :, :2] += r.normal((n, 21, 2), 1.2)
    size = r.uniform((n, 1, 1), 0, 2) * (r.uniform((n, 1, 1)) < .5)
    return landmarks + (d * size).reshape(n, 63)


def disturb(r, h, other, more=False):
    """Other statistics for the feature maps of most pictures: per channel scale
    and shift, mixed with those of another picture, as unseen cameras and skins
    would have. After MixStyle (Zhou et al. 2021). other: mean and deviation
    that each row is mixed with. With more, some channels are also put out: they
    show their mean everywhere."""
    n, device = len(h["pooled"]), h["pooled"].device
    on = (r.uniform((n, 1)) < .7).float()
    lam = torch.where(r.uniform((n, 1)) < .6, r.uniform((n, 1), .2, 1), torch.ones(n, 1, device=device))
    m, s = h["mean"].float(), h["deviation"].float() + 1e-4
    m2, s2 = lam * m + (1 - lam) * other[0].float(), lam * s + (1 - lam) * (other[1].float() + 1e-4)
    gain = s2 / s * (1 + r.normal(s.shape, .1))
    shift = m2 + s * r.normal(s.shape, .15) - m * gain
    if more:
        out = (r.uniform(s.shape) < .12 * r.uniform((n, 1))).float()
        gain, shift = gain * (1 - out), shift + out * (m * gain)
    gain, shift = 1 + (gain - 1) * on, shift * on
    at, maps = 0, {}
    for name, c, _, _ in MAPS:
        part = lambda v: v[:, at:at + c, None, None].to(h[name].dtype)
        maps[name] = h[name] * part(gain) + part(shift)
        at += c
    p = h["pooled"].float()
    q = p * (1 + r.normal(p.shape, .15)) * (r.uniform(p.shape) > .05)
    return dict(h, **maps, pooled=p + (q - p) * on, landmarks=h["landmarks"].float() + r.normal((n, 63), 2.0) * (r.uniform((n, 1)) < .7))

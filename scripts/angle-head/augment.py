"""Turns rendered foregrounds into pictures as a camera would give them, on the
device that trains: place, background, light, colour, blur, sharpening, low
resolution, things in front, noise and compression. Strength 1 is what training
uses; test pictures are made with 0.6 and without change of place.
"""
import math

import torch
import torch.nn.functional as F

SIZE = 224


class Random:
    """Random numbers of one generator on one device."""

    def __init__(self, device, seed):
        self.device = device
        self.g = torch.Generator(device=device)
        self.g.manual_seed(seed)

    def uniform(self, shape, a=0.0, b=1.0):
        return torch.rand(shape, device=self.device, generator=self.g) * (b - a) + a

    def normal(self, shape, s=1.0):
        return torch.randn(shape, device=self.device, generator=self.g) * s

    def noise(self, like):
        return torch.randn(like.shape, device=self.device, generator=self.g, dtype=like.dtype)

    def logu(self, shape, a, b):
        return torch.exp(self.uniform(shape, math.log(a), math.log(b)))

    def pick(self, n, shape):
        return torch.randint(n, shape, device=self.device, generator=self.g)

    def some(self, n, p):
        """Indices of a random share p of n pictures. Their number is always the
        same, so that the device need not plan each batch anew."""
        return torch.randperm(n, device=self.device, generator=self.g)[:int(n * min(p, 1) + .5)]


def affine(scale, turn, tx, ty, flip=None):
    c, s = torch.cos(turn) * scale, torch.sin(turn) * scale
    f = torch.ones_like(scale) if flip is None else flip
    return torch.stack([torch.stack([c * f, -s, tx], 1), torch.stack([s * f, c, ty], 1)], 1)


def sample(x, theta, size, mode="border"):
    grid = F.affine_grid(theta, (x.shape[0], x.shape[1], size, size), align_corners=False)
    return F.grid_sample(x, grid, padding_mode=mode, align_corners=False)


def move(labels, y, theta, size=SIZE):
    """Moves the picture-plane labels along with an affine map from output to
    input coordinates."""
    y = y.clone()
    inv = torch.linalg.inv(theta[:, :, :2])
    p = labels.get(y, "points").reshape(-1, 21, 2) * 2 - theta[:, None, :, 2]
    p = torch.einsum("bij,bkj->bki", inv, p) / 2
    labels.set(y, "points", p.reshape(-1, 42))
    turn = inv / torch.sqrt(torch.abs(torch.linalg.det(inv)))[:, None, None]
    for name in ("normal", "axis"):
        v = labels.get(y, name).clone()
        v[:, :2] = torch.einsum("bij,bj->bi", turn, v[:, :2])
        labels.set(y, name, v)
    inside = (p.abs() < 0.5).all(2).float()
    labels.set(y, "visible", labels.get(y, "visible") * inside)
    return y


def blur(r, x, sigma, length):
    """Defocus with the given standard deviations and motion of the given
    lengths, pixels, one of each a picture."""
    b, c, h, w = x.shape
    n, half = 9, 4
    g = torch.arange(n, device=x.device).float() - half
    yy, xx = torch.meshgrid(g, g, indexing="ij")
    k = torch.exp(-(xx ** 2 + yy ** 2) / (2 * sigma.view(-1, 1, 1) ** 2 + 1e-3))
    turn = r.uniform((b, 1, 1), 0, math.pi)
    u = xx * torch.cos(turn) + yy * torch.sin(turn)
    v = -xx * torch.sin(turn) + yy * torch.cos(turn)
    m = torch.exp(-v ** 2 / (2 * (0.4 + 0.5 * sigma.view(-1, 1, 1)) ** 2)) * torch.sigmoid((length.view(-1, 1, 1) / 2 + 0.5 - u.abs()) * 4)
    k = torch.where(length.view(-1, 1, 1) > 0, m, k)
    k = (k / k.sum((1, 2), keepdim=True)).to(x.dtype)
    k = k.repeat_interleave(c, 0).view(b * c, 1, n, n)
    x = F.pad(x, (half,) * 4, mode="replicate").reshape(1, b * c, h + 2 * half, w + 2 * half)
    with torch.backends.cudnn.flags(enabled=False):  # its search for a plan would take longer
        return F.conv2d(x, k, groups=b * c).view(b, c, h, w)


class Jpeg:
    """Quantizes blocks of 8 x 8 as JPEG does, with its standard table."""

    TABLE = [16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
             18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99]

    def __init__(self, device):
        self.dct = torch.tensor([[math.cos((2 * j + 1) * i * math.pi / 16) * (math.sqrt(1 / 8) if i == 0 else 0.5) for j in range(8)] for i in range(8)], device=device)
        self.q = torch.tensor(self.TABLE, device=device).float().view(8, 8)
        self.to = torch.tensor([[.299, .587, .114], [-.1687, -.3313, .5], [.5, -.4187, -.0813]], device=device)
        self.back = torch.linalg.inv(self.to)

    def __call__(self, r, x):
        b, _, h, w = x.shape
        kind = x.dtype
        y = torch.einsum("ij,bjhw->bihw", self.to, x.float() * 255 - 128)
        y = y.view(b, 3, h // 8, 8, w // 8, 8).permute(0, 1, 2, 4, 3, 5)
        c = self.dct @ y @ self.dct.T
        q = self.q * r.logu((b, 1, 1, 1, 1, 1), .2, 1.8)
        q = torch.cat([q, q * 1.6, q * 1.6], 1).clamp(min=1)
        c = torch.round(c / q) * q
        y = (self.dct.T @ c @ self.dct).permute(0, 1, 2, 4, 3, 5).reshape(b, 3, h, w)
        return ((torch.einsum("ij,bjhw->bihw", self.back, y) + 128) / 255).clamp(0, 1).to(kind)


class Camera:
    """Composites and photographs. backgrounds: N x H x W x 3 bytes on the
    device."""

    def __init__(self, device, backgrounds, labels, seed, half=False):
        self.r = Random(device, seed)
        self.backgrounds, self.labels = backgrounds, labels
        self.jpeg = Jpeg(device)
        self.kind = torch.float16 if half else torch.float32

    @torch.no_grad()
    def __call__(self, x, y, strength=1.0, still=False):
        """x: B x 224 x 224 x 4 premultiplied bytes, y: labels. Returns pictures
        B x 3 x 224 x 224 in 0..1 and the labels moved along."""
        r, b, k = self.r, x.shape[0], strength
        x = x.permute(0, 3, 1, 2).float() / 255
        if not still:
            flip = torch.where(r.uniform((b,)) < .5, -1.0, 1.0)
            theta = affine(r.uniform((b,), .88, 1.1), r.normal((b,), 7 * math.pi / 180), r.normal((b,), .03), r.normal((b,), .03), flip)
            x = sample(x, theta, SIZE)
            y = move(self.labels, y, theta)
        back = self.backgrounds[r.pick(len(self.backgrounds), (b,))].permute(0, 3, 1, 2).float() / 255
        back = sample(back, affine(r.uniform((b,), .45, 1.1), r.uniform((b,), -3.2, 3.2), r.normal((b,), .2), r.normal((b,), .2)), SIZE, "reflection")
        x, back = x.to(self.kind), back.to(self.kind)
        v = lambda t: t.view(b, -1, 1, 1).to(self.kind)
        back = (back * v(r.uniform((b,), .5, 1.3)) * v(1 + r.normal((b, 3), .06))).clamp(0, 1)
        alpha = x[:, 3:4]
        front = torch.minimum((x[:, :3] * v(torch.exp(r.uniform((b,), -.4 * k, .45))) * v(1 + r.normal((b, 3), .06 * k))).clamp(min=0), alpha)
        x = front + (1 - alpha) * back
        x = self.light(x, k, v)
        x = self.optics(x, k)
        if not still:
            x = self.cover(x)
        x = (x + v(r.uniform((b,), 0, .045 * k) * (r.uniform((b,)) < .8)) * r.noise(x)).clamp(0, 1)
        i = r.some(b, .35 * k)
        if len(i):
            x[i] = self.jpeg(r, x[i])
        return x, y

    @torch.no_grad()
    def photograph(self, x, strength=1.0):
        """The same for whole photographs: light, optics, noise, compression."""
        r, b = self.r, x.shape[0]
        x = x.to(self.kind)
        v = lambda t: t.view(b, -1, 1, 1).to(self.kind)
        x = self.optics(self.light(x, strength, v), strength)
        x = (x + v(r.uniform((b,), 0, .04 * strength)) * r.noise(x)).clamp(0, 1)
        i = r.some(b, .3 * strength)
        if len(i):
            x[i] = self.jpeg(r, x[i])
        return x

    def light(self, x, k, v):
        r, b = self.r, x.shape[0]
        # Uneven light over the picture.
        i = r.some(b, .4 * k)
        if len(i):
            f = F.interpolate(r.normal((len(i), 1, 3, 3), .18), size=(SIZE, SIZE), mode="bicubic", align_corners=False)
            x[i] = x[i] * torch.exp(f).to(self.kind)
        x = x.clamp(1e-3, 1) ** v(torch.exp(r.uniform((b,), -.35, .35) * k))
        m = x.mean((1, 2, 3), keepdim=True)
        x = (x - m) * v(torch.exp(r.uniform((b,), -.3, .25) * k)) + m
        g = x.mean(1, keepdim=True)
        x = g + (x - g) * v(r.uniform((b,), max(0, 1 - .6 * k), 1 + .4 * k))
        dark = torch.where(r.uniform((b,)) < .08 * k, r.uniform((b,), .12, .5), torch.ones(b, device=x.device))
        return (x * v(1 + r.normal((b, 3), .06 * k)) * v(dark)).clamp(0, 1)

    def optics(self, x, k):
        r, b = self.r, x.shape[0]
        i = r.some(b, .5 * k)
        if len(i):
            n = len(i)
            sigma = r.uniform((n,), .3, 1.8)
            length = torch.where(r.uniform((n,)) < .35, r.uniform((n,), 1, 6), torch.zeros(n, device=x.device))
            x[i] = blur(r, x[i], sigma, length)
        i = r.some(b, .35 * k)
        if len(i):
            # Low resolution of the source, enlarged again.
            n = int(SIZE * float(r.uniform((1,), .28, .8)))
            q = F.interpolate(x[i].float(), size=(n, n), mode="bilinear", antialias=True, align_corners=False) if x.is_cuda else F.interpolate(x[i], size=(n, n), mode="area")
            q = F.interpolate(q, size=(SIZE, SIZE), mode="bilinear" if float(r.uniform((1,))) < .7 else "bicubic", align_corners=False)
            x[i] = q.clamp(0, 1).to(x.dtype)
        i = r.some(b, .3 * k)
        if len(i):
            # Sharpening, as phones do it: bright and dark rims at edges.
            q = x[i]
            low = F.avg_pool2d(F.pad(q, (2, 2, 2, 2), mode="replicate"), 5, 1)
            x[i] = (q + (q - low) * r.uniform((len(i), 1, 1, 1), .2, 1.5).to(x.dtype)).clamp(0, 1)
        return x

    def cover(self, x):
        """A rectangle of one colour in front of a part of some pictures."""
        r, b = self.r, x.shape[0]
        use = r.uniform((b, 1, 1)) < .15
        g = torch.arange(SIZE, device=x.device) / SIZE
        w, h, cx, cy = (r.uniform((b, 1, 1), lo, hi) for lo, hi in ((.05, .3), (.05, .3), (0, 1), (0, 1)))
        m = ((g[None, None, :] - cx).abs() < w / 2) & ((g[None, :, None] - cy).abs() < h / 2) & use
        return torch.where(m[:, None], (r.uniform((b, 3, 1, 1)) + .05 * r.noise(x)).to(x.dtype), x)

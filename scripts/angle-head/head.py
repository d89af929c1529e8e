"""The angle head: reads joint angles from the feature maps of the landmark
network.

Places first: the Sampler takes from every feature map what lies at the
joints and at the middles of the bones, where the network itself put them, and
from the fine maps also what lies a little to both sides across the bone, where
the outline of the finger is. It has no parameters.

The Lens, a small trained network on the same maps, has maps of its own that are
sampled with them, and Points says where it sees the fingers. A Strip takes what
lies along each finger, at the points so mended, in the finger's own direction.

Then the AngleHead puts each long finger's places through the same small
network, so that what is learned of one finger holds for all, and adds the
network's pooled features and the directions and bends of its own points, the
rough angles that most programs would use.

Every operation exists in ONNX operator set 10.
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

from layout import FINGER_POINTS, WIDTH

# Places: the 21 points, then the middles of the proximal and middle phalanges
# of the long fingers and of the thumb's last two bones.
MIDDLES = [(a, b) for f in FINGER_POINTS for a, b in ((f[0], f[1]), (f[1], f[2]))] + [(2, 3), (3, 4)]
PLACES = 21 + len(MIDDLES)
FINGER_PLACES = [[f[0], 21 + 2 * k, f[1], 22 + 2 * k, f[2], f[3]] for k, f in enumerate(FINGER_POINTS)]
THUMB_PLACES = [1, 2, 29, 3, 30, 4]

# The landmark network's feature maps: name, channels, side, whether it is also
# sampled beside the bones.
MAPS = [("f56", 24, 56, True), ("f28", 40, 28, True), ("f14", 112, 14, False), ("f7", 192, 7, False)]
PLACE_WIDTH = sum(c * (3 if sides else 1) for _, c, _, sides in MAPS)
MAP_WIDTH = sum(c for _, c, _, _ in MAPS)
BESIDE = 10 / 224  # of the crop: about the half width of a finger and a little


def bone_matrix():
    """Rows give for each place the direction of the finger there, as a sum of
    points."""
    m = torch.zeros(PLACES, 21)

    def put(place, a, b):
        m[place, b] += 1
        m[place, a] -= 1

    put(0, 0, 9)
    for places, p in zip(FINGER_PLACES + [THUMB_PLACES], FINGER_POINTS + [[1, 2, 3, 4]]):
        if places is THUMB_PLACES:
            ends = [(1, 2), (1, 3), (2, 3), (2, 4), (3, 4), (3, 4)]
        else:
            ends = [(p[0], p[1]), (p[0], p[1]), (p[0], p[2]), (p[1], p[2]), (p[1], p[3]), (p[2], p[3])]
        for place, (a, b) in zip(places, ends):
            put(place, a, b)
    return m


# Strips: along every long finger, four places a bone and the tip, and at each
# of them these distances across the bone, in pixels of the crop.
ALONG = 13
ACROSS = (-12, -6, 0, 6, 12)


def strip_matrices():
    """Rows give the places along the fingers, and the direction of the finger
    there, as sums of points."""
    at, way = torch.zeros(4 * ALONG, 21), torch.zeros(4 * ALONG, 21)
    for k, f in enumerate(FINGER_POINTS):
        for i in range(ALONG):
            bone, t = (i // 4, i % 4 / 4) if i < ALONG - 1 else (2, 1.0)
            at[k * ALONG + i, f[bone]] += 1 - t
            at[k * ALONG + i, f[bone + 1]] += t
            a, b = ((0, *f)[bone], f[bone + 1]) if t == 0 else (f[bone], f[bone + 1])
            way[k * ALONG + i, b] += 1
            way[k * ALONG + i, a] -= 1
    return at, way


class Places(nn.Module):
    """The network's points -> B x PLACES x 2 and the unit directions across the
    bones there, shares of the crop."""

    def __init__(self):
        super().__init__()
        m = torch.zeros(2 * PLACES, 21)
        m[:21, :21] = torch.eye(21)
        for i, (a, b) in enumerate(MIDDLES):
            m[21 + i, a] = m[21 + i, b] = 0.5
        m[PLACES:] = bone_matrix()
        self.register_buffer("linear", m / 224.0, persistent=False)
        # Turns x, y into y, -x to either side and none.
        self.register_buffer("turn", BESIDE * torch.tensor([[0., 1.], [-1., 0.]]), persistent=False)

    def forward(self, points):
        """points: B x 21 x 2, pixels. Returns B x 3 PLACES x 2: the places
        themselves, then those to either side."""
        p = torch.matmul(self.linear, points)
        xy, d = p[:, 0:PLACES], p[:, PLACES:2 * PLACES]
        across = torch.matmul(d / torch.sqrt((d * d).sum(2, keepdim=True) + 1e-6), self.turn)
        return torch.cat([xy, xy + across, xy - across], 1)


class StripPlaces(nn.Module):
    """The network's points -> B x 4 ALONG len(ACROSS) x 2."""

    def __init__(self):
        super().__init__()
        at, way = strip_matrices()
        self.register_buffer("linear", torch.cat([at, way]) / 224.0, persistent=False)
        self.register_buffer("turn", torch.tensor([[0., 1.], [-1., 0.]]), persistent=False)
        self.register_buffer("steps", torch.tensor(ACROSS).float().view(1, 1, -1, 1) / 224.0, persistent=False)

    def forward(self, points):
        n = 4 * ALONG
        p = torch.matmul(self.linear, points)
        d = p[:, n:2 * n]
        across = torch.matmul(d / torch.sqrt((d * d).sum(2, keepdim=True) + 1e-6), self.turn)
        return (p[:, 0:n].unsqueeze(2) + across.unsqueeze(2) * self.steps).reshape(-1, n * len(ACROSS), 2)


def flat(m):
    """B x channels x side x side -> B side side x channels, a row a place. What
    learns is gathered in full digits, since its gradients add up there."""
    m = m.float() if m.requires_grad else m
    return m.reshape(-1, m.shape[1], m.shape[2] * m.shape[3]).transpose(1, 2).reshape(-1, m.shape[1])


class Bilinear(nn.Module):
    """Maps of several sizes at the same places -> for each map B x places x
    channels. What they share is worked out together, since in the exported
    graph each operation costs as much as its start."""

    def __init__(self, sides):
        super().__init__()
        k = len(sides)
        self.k = k
        n = torch.tensor([float(v) for v in sides]).view(k, 1, 1)
        self.register_buffer("side", n, persistent=False)
        self.register_buffer("last", n - 1.001, persistent=False)
        corner = torch.tensor([[0., 0.], [1., 0.], [0., 1.], [1., 1.]]).view(4, 1, 1, 2)
        self.register_buffer("base", 1 - corner, persistent=False)
        self.register_buffer("slope", 2 * corner - 1, persistent=False)
        row = torch.cat([torch.ones(k, 1), n.view(k, 1)], 1)                  # x + n y
        self.register_buffer("stride", row.view(k, 2, 1), persistent=False)
        self.register_buffer("offset", (corner.view(4, 1, 2) * row.view(1, k, 2)).sum(2).view(4, k, 1), persistent=False)  # corner x map

    def forward(self, xy, maps):
        """xy: B x places x 2, shares of the crop. maps: list of (flat map, number
        of the first places that are wanted), one for each side."""
        g = torch.min(torch.max(xy.unsqueeze(1) * self.side - 0.5, self.side * 0), self.last)   # B x map x place x 2
        low = torch.floor(g)
        t = (g - low).unsqueeze(1) * self.slope + self.base                   # B x corner x map x place x 2
        weight = t[..., 0:1] * t[..., 1:2]
        row = torch.matmul(low, self.stride).squeeze(3).unsqueeze(1) + self.offset
        b = g.shape[0]
        if b > 1:
            row = row + torch.arange(b, device=g.device).view(b, 1, 1, 1) * (self.side * self.side).view(1, 1, self.k, 1)
        row = row.long()
        out, all = [], xy.shape[1]
        for i, (m, n) in enumerate(maps):
            r, w = row[:, :, i], weight[:, :, i]
            if n < all:
                r, w = r[:, :, 0:n], w[:, :, 0:n]
            f = m.index_select(0, r.reshape(-1)).reshape(-1, 4, n, m.shape[1])
            out.append((f * w).sum(1))
        return out


class Sampler(nn.Module):
    """Feature maps -> B x PLACES x PLACE_WIDTH, and the same of what the lens
    made, if there is one."""

    def __init__(self):
        super().__init__()
        self.places = Places()
        self.bilinear = Bilinear([m[2] for m in MAPS])

    def forward(self, maps, points):
        """maps: the flat maps in the order of MAPS, those of the lens behind the
        channels of the landmark network's."""
        with torch.autocast(points.device.type, enabled=False):  # a place needs more digits than half has
            s = self.bilinear(self.places(points), [(m, 3 * PLACES if sides else PLACES) for m, (_, _, _, sides) in zip(maps, MAPS)])
        out, more = [], []
        for v, (_, c, _, sides) in zip(s, MAPS):
            parts = [v[:, 0:PLACES], v[:, PLACES:2 * PLACES], v[:, 2 * PLACES:3 * PLACES]] if sides else [v]
            if v.shape[2] > c:
                more += [p[:, :, c:] for p in parts]
                parts = [p[:, :, 0:c] for p in parts]
            out += parts
        return torch.cat(out, 2), torch.cat(more, 2) if more else None


class Reader(nn.Module):
    """Everything a head reads, and for training the mean and the deviation of
    each channel of the maps."""

    WIDTHS = {**{m: c * n * n for m, c, n, _ in MAPS}, "pooled": 1152, "landmarks": 63, "world": 63, "presence": 1, "handedness": 1,
              "mean": MAP_WIDTH, "deviation": MAP_WIDTH}
    SHAPES = {m: (c, n, n) for m, c, n, _ in MAPS}

    def forward(self, h):
        out = {k: h[k] for k in (*self.SHAPES, "pooled", "landmarks", "world", "presence", "handedness")}
        mean, var = [], []
        for m, c, n, _ in MAPS:
            f = h[m].reshape(-1, c, n * n).float()
            mu = f.mean(2, keepdim=True)
            mean.append(mu.squeeze(2))
            var.append(((f - mu) * (f - mu)).mean(2))
        out["mean"], out["deviation"] = torch.cat(mean, 1), torch.sqrt(torch.cat(var, 1))
        return out


def shuffle(x, factor=2):
    """B x 4 C x n x n -> B x C x 2 n x 2 n: four channels make four places."""
    c, n = x.shape[1] // (factor * factor), x.shape[2]
    x = x.reshape(-1, c, factor, factor, n, n).permute(0, 1, 4, 2, 5, 3).reshape(-1, c, factor * n, factor * n)
    return x.contiguous(memory_format=torch.channels_last) if x.is_cuda else x


class Lens(nn.Module):
    """A small network of its own on the maps, for what the landmark network had
    no need of: B x WIDTH x 28 x 28, and if it is deep B x DEEP x 14 x 14."""

    WIDTH, DEEP = 40, 96

    def __init__(self, deep=False, more=0):
        """more: pairs of convolutions more at the coarse side of a deep lens."""
        super().__init__()
        w, d = self.WIDTH, self.DEEP
        self.fine = nn.Conv2d(24, w, 3, 2, 1)
        self.same = nn.Conv2d(40, w, 1)
        self.coarse = nn.Conv2d(112, 4 * w, 1)
        self.a, self.b = nn.Conv2d(w, w, 3, 1, 1), nn.Conv2d(w, w, 3, 1, 1)
        self.norms = nn.ModuleList(nn.BatchNorm2d(w) for _ in range(3))
        self.deep = deep
        if deep:
            self.down, self.middle, self.low = nn.Conv2d(w, d, 3, 2, 1), nn.Conv2d(112, d, 1), nn.Conv2d(192, 4 * d, 1)
            self.c, self.d = nn.Conv2d(d, d, 3, 1, 1), nn.Conv2d(d, d, 3, 1, 1)
            self.deepnorms = nn.ModuleList(nn.BatchNorm2d(d) for _ in range(3))
            self.up = nn.Conv2d(d, 4 * w, 1)
            nn.init.zeros_(self.up.weight)
            nn.init.zeros_(self.up.bias)
            self.more = nn.ModuleList(nn.Conv2d(d, d, 3, 1, 1) for _ in range(2 * more))
            self.morenorms = nn.ModuleList(nn.BatchNorm2d(d) for _ in range(2 * more))
            for n in self.morenorms[1::2]:
                nn.init.zeros_(n.weight)

    def forward(self, h):
        c = shuffle(self.coarse(h["f14"]))
        x = F.relu(self.norms[0](self.fine(h["f56"]) + self.same(h["f28"]) + c))
        x = F.relu(self.norms[1](self.a(x)))
        if not self.deep:
            return F.relu(self.norms[2](self.b(x) + c)), None
        y = F.relu(self.deepnorms[0](self.down(x) + self.middle(h["f14"]) + shuffle(self.low(h["f7"]))))
        y = F.relu(self.deepnorms[2](self.d(F.relu(self.deepnorms[1](self.c(y)))) + y))
        for i in range(0, len(self.more), 2):
            y = F.relu(self.morenorms[i + 1](self.more[i + 1](F.relu(self.morenorms[i](self.more[i](y))))) + y)
        return F.relu(self.norms[2](self.b(x) + c + shuffle(self.up(y)))), y


class Points(nn.Module):
    """Where the lens sees the points of the long fingers: B x 16 x 2 pixels of
    the crop."""

    def __init__(self):
        super().__init__()
        self.conv = nn.Conv2d(Lens.WIDTH, 16, 1)
        g = (torch.arange(28).float() + .5) * 8
        self.register_buffer("grid", torch.stack([g.repeat(28), g.repeat_interleave(28), torch.ones(784)], 1), persistent=False)

    def forward(self, x):
        """The middle of a distribution over the map, one for each point."""
        e = torch.exp(self.conv(x).reshape(-1, 16, 784).clamp(-30, 30).to(self.grid.dtype))
        with torch.autocast(x.device.type, enabled=False):
            q = torch.matmul(e, self.grid)
        return q[:, :, 0:2] / q[:, :, 2:3]


class Strip(nn.Module):
    """What lies along each finger, in the finger's own direction -> B x 4 x
    width."""

    def __init__(self, channels, width, step=64, drop=0.1):
        super().__init__()
        self.places, self.channels = StripPlaces(), channels
        c = channels * len(ACROSS)
        self.norm = nn.BatchNorm1d(channels, affine=False, momentum=0.02)
        self.first, self.second = nn.Linear(c, step), nn.Linear(3 * step, 96)
        self.n1, self.n2 = nn.BatchNorm1d(step), nn.BatchNorm1d(96)
        self.out = nn.Linear(ALONG * 96, width)
        nn.init.zeros_(self.out.weight)
        nn.init.zeros_(self.out.bias)
        self.drop = nn.Dropout(drop)

    def forward(self, sampled):
        """sampled: B x 4 ALONG len(ACROSS) x channels."""
        x = self.norm(sampled.reshape(-1, self.channels)).clamp(-8, 8)
        x = F.relu(self.n1(self.first(x.reshape(-1, self.channels * len(ACROSS))))).reshape(-1, ALONG, self.first.out_features)
        x = torch.cat([torch.cat([x[:, 0:1], x[:, 0:ALONG - 1]], 1), x, torch.cat([x[:, 1:ALONG], x[:, ALONG - 1:ALONG]], 1)], 2)
        x = F.relu(self.n2(self.second(x).reshape(-1, 96)))
        return self.out(self.drop(x.reshape(-1, 4, ALONG * 96)))


class Geometry(nn.Module):
    """Directions and bends from the landmark network's own points, image and
    world side by side. All lengths are taken relative to the palm, so that
    size and place in the crop fall out. Everything linear in the points is one
    matrix."""

    FINGER = 2 * (4 * 3 + 4 * 3 + 3 + 3)
    GLOBAL = 5 * 3 * 2 + 2

    def __init__(self):
        super().__init__()
        rows = []

        def vector(a, b):
            v = torch.zeros(21)
            v[b] += 1
            v[a] -= 1
            rows.append(v)

        chains = [[0, *f] for f in FINGER_POINTS] + [[0, 1, 2, 3, 4]]
        for c in chains:        # 0..20: points from the wrist
            for i in c[1:]:
                vector(0, i)
        for c in chains:        # 20..40: bones
            for i, j in zip(c, c[1:]):
                vector(i, j)
        vector(17, 5)           # 40: across the palm to the radial side
        for i in (1, 5, 9, 13, 17):  # 41..46: palm
            vector(0, i)
        for i in (9, 5, 17):    # 46..49: its size
            vector(0, i)
        self.register_buffer("linear", torch.stack(rows))
        cross = torch.zeros(3, 3, 3)  # (v x r)_j = sum v_i r_k cross_kij
        for i, j, k, sign in ((1, 0, 2, 1), (2, 0, 1, -1), (2, 1, 0, 1), (0, 1, 2, -1), (0, 2, 1, 1), (1, 2, 0, -1)):
            cross[k, i, j] = sign
        self.register_buffer("cross", cross.reshape(3, 9))

    def forward(self, h):
        p = torch.cat([h["landmarks"] * 0.01, h["world"] * 10], 1).reshape(-1, 2, 21, 3)
        q = torch.matmul(self.linear, p)
        size = torch.sqrt((q[:, :, 46:49] ** 2).sum(3, keepdim=True) + 1e-6).mean(2, keepdim=True) + 1e-3
        q = q / size
        c, d = q[:, :, 0:20], q[:, :, 20:41]
        d = d / torch.sqrt((d * d).sum(3, keepdim=True) + 1e-6)
        # Handedness turns the sense of the radial axis: left and right hands
        # then bend with the same sign.
        radial = d[:, :, 20:21] * (h["handedness"] * 2 - 1).reshape(-1, 1, 1, 1)
        d = d[:, :, 0:20].reshape(-1, 2, 5, 4, 3)
        u, v = d[:, :, :, 0:3], d[:, :, :, 1:4]
        k = torch.matmul(radial, self.cross).reshape(-1, 2, 1, 3, 3)
        sin = (u * torch.matmul(v, k)).sum(4)
        cos = (u * v).sum(4)
        f = torch.cat([c.reshape(-1, 2, 5, 12), d.reshape(-1, 2, 5, 12), sin, cos], 3)
        f = f.transpose(1, 2).reshape(-1, 5, self.FINGER)
        g = torch.cat([q[:, :, 41:46].reshape(-1, 30), h["handedness"], h["presence"]], 1)
        return f, g


class AngleHead(nn.Module):
    """Without geometry it leaves the network's own points out. lens adds a
    small network on the maps, strip what lies along the fingers, refine moves
    the points before the strips are laid."""

    def __init__(self, geometry=True, place=112, width=288, drop=0.15, geodrop=0.2, lens=False, strip=False, refine=False, deep=False, more=0):
        super().__init__()
        self.geometry, self.geodrop, self.refine = geometry, geodrop, refine
        self.sampler = Sampler()
        self.lens = Lens(deep, more) if lens else None
        if lens:
            n = 3 * Lens.WIDTH + (Lens.DEEP if deep else 0)
            self.lensnorm = nn.BatchNorm1d(n, affine=False, momentum=0.02)
            self.lensplace = nn.Linear(n, place, bias=False)
            nn.init.zeros_(self.lensplace.weight)
        self.strip = None
        if strip:
            self.strip = Strip(24 + 40 + (Lens.WIDTH if lens else 0), width)
            self.bilinear = Bilinear([56, 28])
        if refine:
            self.better = nn.Sequential(nn.Linear(6 * place, 64), nn.ReLU(), nn.Linear(64, 8))
            nn.init.zeros_(self.better[2].weight)
            nn.init.zeros_(self.better[2].bias)
        self.points = Points() if deep else None
        if deep:
            self.gate = nn.Linear(6 * place, 4)
            nn.init.zeros_(self.gate.weight)
            nn.init.constant_(self.gate.bias, -1.5)
        self.pooled = nn.Linear(1152, 192)
        common = 192
        if geometry:
            self.geo = Geometry()
            self.geofinger = nn.BatchNorm1d(Geometry.FINGER, affine=False, momentum=0.02)
            self.geoglobal = nn.BatchNorm1d(Geometry.GLOBAL, affine=False, momentum=0.02)
            self.geolinear = nn.Linear(Geometry.GLOBAL, 64)
            common += 64
        self.common = nn.BatchNorm1d(common)
        self.drop = nn.Dropout(drop)
        self.placenorm = nn.BatchNorm1d(PLACE_WIDTH, affine=False, momentum=0.02)
        self.place = nn.Linear(PLACE_WIDTH, place)
        self.register_buffer("where", torch.tensor(FINGER_PLACES + [THUMB_PLACES]).reshape(-1))
        self.per = place
        own = 6 * place + (Geometry.FINGER if geometry else 0)
        w, t = width, width // 2
        self.bring, self.bringthumb = nn.Linear(common, w), nn.Linear(common, t)
        self.which = nn.Parameter(torch.zeros(4, w))
        self.own, self.ownthumb = nn.Linear(own, w), nn.Linear(own, t)
        self.n1 = nn.BatchNorm1d(w)
        self.neighbours = nn.Linear(w, w, bias=False)
        self.again = nn.Linear(w, w)
        self.n2 = nn.BatchNorm1d(w)
        # Of each finger: 3 angles, 3 scales, bend and its scale, 4 points seen.
        self.outfinger = nn.Linear(w, 12)
        self.thumb = nn.Linear(t + w, t)
        self.nt = nn.BatchNorm1d(t)
        # Of the rest: thumb 2 + 2, normal 3, axis 3, wrist and thumb points 5.
        self.outrest = nn.Linear(t, 15)

    @staticmethod
    def norm(bn, x):
        """Batch norm over all but the last axis of B x F x C."""
        return bn(x.reshape(-1, x.shape[2])).reshape(-1, x.shape[1], x.shape[2])

    def forward(self, h):
        """Returns B x WIDTH, and in training with refine also the points of the
        long fingers where it puts them and where the lens sees them, B x 16 x 2
        pixels."""
        common = [self.pooled(h["pooled"])]
        points = h.get("at", h["landmarks"]).reshape(-1, 21, 3)[:, :, 0:2]
        maps = [flat(h[m]) for m, _, _, _ in MAPS]
        lens = None
        if self.lens:
            lens, deep = self.lens(h)
            maps[1] = torch.cat([maps[1], flat(lens)], 1)
            if deep is not None:
                maps[2] = torch.cat([maps[2], flat(deep)], 1)
        places, more = self.sampler(maps, points)
        s = self.place(self.norm(self.placenorm, places).clamp(-8, 8))
        if more is not None:
            s = s + self.lensplace(self.norm(self.lensnorm, more).clamp(-8, 8))
        s = F.relu(s)
        own = self.drop(s[:, self.where].reshape(-1, 5, 6 * self.per))
        seen = moved = None
        if self.refine:
            moved = points[:, 5:21] + 10 * self.better(own[:, 0:4]).reshape(-1, 16, 2)
            if self.points:
                # Between where the network has a finger and where the lens has it.
                seen = self.points(lens)
                g = torch.sigmoid(self.gate(own[:, 0:4])).reshape(-1, 4, 4, 1)
                moved = moved.reshape(-1, 4, 4, 2)
                moved = (moved + g * (seen.reshape(-1, 4, 4, 2) - moved)).reshape(-1, 16, 2)
            points = torch.cat([points[:, 0:5], moved.detach()], 1)
        along = None
        if self.strip:
            with torch.autocast(points.device.type, enabled=False):
                xy = self.strip.places(points)
                strips = torch.cat(self.bilinear(xy, [(m, xy.shape[1]) for m in maps[:2]]), 2)
            along = self.strip(strips)
        if self.geometry:
            f, g = self.geo(h)
            f, g = self.norm(self.geofinger, f).clamp(-6, 6), self.geoglobal(g).clamp(-6, 6)
            if self.training:
                # The rough angles of rendered hands err in another way than
                # those of photographed ones: they are blurred and sometimes
                # withheld so that the head does not lean on them.
                keep = (torch.rand(g.shape[0], 1, device=g.device) > self.geodrop).float()
                f = (f + 0.15 * torch.randn_like(f)) * keep[:, None]
                g = (g + 0.15 * torch.randn_like(g)) * keep
            common.append(self.geolinear(g))
            own = torch.cat([own, f], 2)
        c = self.drop(F.relu(self.common(torch.cat(common, 1))))
        x = self.bring(c).unsqueeze(1) + self.which + self.own(own[:, 0:4])
        if along is not None:
            x = x + along
        x = self.drop(F.relu(self.norm(self.n1, x)))
        x = x + F.relu(self.norm(self.n2, self.again(x) + self.neighbours(x.mean(1, keepdim=True))))
        o = self.outfinger(self.drop(x))
        t = F.relu(self.bringthumb(c) + self.ownthumb(own[:, 4]))
        t = F.relu(self.nt(self.thumb(torch.cat([t, x.mean(1)], 1))))
        r = self.outrest(self.drop(t))
        out = torch.cat([o[:, :, 0:3].reshape(-1, 12), r[:, 0:2], o[:, :, 3:6].reshape(-1, 12), r[:, 2:4], o[:, :, 6], o[:, :, 7],
                         r[:, 4:10], r[:, 10:15], o[:, :, 8:12].reshape(-1, 16)], 1)
        assert out.shape[1] == WIDTH
        return (out, moved, seen) if self.refine and self.training else out

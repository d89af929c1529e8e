"""The angle head: reads joint angles from the feature maps of the landmark
network.

Places first: the Sampler takes from every feature map what lies at the
joints and at the middles of the bones, where the network itself put them, and
from the fine maps also what lies a little to both sides across the bone, where
the outline of the finger is. It has no parameters, so that in training its
results can be kept and used several times.

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


class Sampler(nn.Module):
    """Feature maps -> B x PLACES x PLACE_WIDTH, by bilinear interpolation. The
    four corners of all places of all maps are worked out together, since in
    the exported graph each operation costs as much as its start."""

    def __init__(self):
        super().__init__()
        m = torch.zeros(2 * PLACES, 21)
        m[:21, :21] = torch.eye(21)
        for i, (a, b) in enumerate(MIDDLES):
            m[21 + i, a] = m[21 + i, b] = 0.5
        m[PLACES:] = bone_matrix()
        self.register_buffer("linear", m / 224.0)
        n = torch.tensor([float(m[2]) for m in MAPS]).view(4, 1, 1)
        self.register_buffer("side", n)
        self.register_buffer("last", n - 1.001)
        # Turns x, y into y, -x to either side and none.
        self.register_buffer("turn", BESIDE * torch.tensor([[0., 1.], [-1., 0.]]))
        corner = torch.tensor([[0., 0.], [1., 0.], [0., 1.], [1., 1.]]).view(4, 1, 1, 2)
        self.register_buffer("base", 1 - corner)
        self.register_buffer("slope", 2 * corner - 1)
        row = torch.cat([torch.ones(4, 1), n.view(4, 1)], 1)                  # x + n y
        self.register_buffer("stride", row.view(4, 2, 1))
        self.register_buffer("offset", (corner.view(4, 1, 2) * row.view(1, 4, 2)).sum(2).view(4, 4, 1))  # corner x map

    def forward(self, h):
        p = torch.matmul(self.linear, h["landmarks"].reshape(-1, 21, 3)[:, :, 0:2])
        xy, d = p[:, 0:PLACES], p[:, PLACES:2 * PLACES]
        across = torch.matmul(d / torch.sqrt((d * d).sum(2, keepdim=True) + 1e-6), self.turn)
        xy = torch.cat([xy, xy + across, xy - across], 1)                     # B x 3 PLACES x 2
        g = torch.min(torch.max(xy.unsqueeze(1) * self.side - 0.5, self.side * 0), self.last)   # B x map x place x 2
        low = torch.floor(g)
        t = (g - low).unsqueeze(1) * self.slope + self.base                   # B x corner x map x place x 2
        weight = t[..., 0:1] * t[..., 1:2]
        row = torch.matmul(low, self.stride).squeeze(3).unsqueeze(1) + self.offset
        b = g.shape[0]
        if b > 1:
            row = row + torch.arange(b, device=g.device).view(b, 1, 1, 1) * (self.side * self.side).view(1, 1, 4, 1)
        row = row.long()
        out = []
        for i, (m, c, n, sides) in enumerate(MAPS):
            k = 3 * PLACES if sides else PLACES
            f = h[m].reshape(-1, c, n * n).transpose(1, 2)
            f = f.reshape(-1, c).index_select(0, row[:, :, i, 0:k].reshape(-1)).reshape(-1, 4, k, c)
            s = (f * weight[:, :, i, 0:k]).sum(1)
            out += [s[:, 0:PLACES], s[:, PLACES:2 * PLACES], s[:, 2 * PLACES:k]] if sides else [s]
        return torch.cat(out, 2)


class Reader(nn.Module):
    """Everything a head reads, and for training the mean and the deviation of
    each channel of the maps, which is all that a change of their statistics
    needs: interpolation is linear."""

    WIDTHS = {"places": PLACES * PLACE_WIDTH, "pooled": 1152, "landmarks": 63, "world": 63, "presence": 1, "handedness": 1,
              "mean": MAP_WIDTH, "deviation": MAP_WIDTH}

    def __init__(self):
        super().__init__()
        self.sampler = Sampler()

    def forward(self, h):
        out = {k: h[k] for k in ("pooled", "landmarks", "world", "presence", "handedness")}
        out["places"] = self.sampler(h)
        mean, var = [], []
        for m, c, n, _ in MAPS:
            f = h[m].reshape(-1, c, n * n)
            mu = f.mean(2, keepdim=True)
            mean.append(mu.squeeze(2))
            var.append(((f - mu) * (f - mu)).mean(2))
        out["mean"], out["deviation"] = torch.cat(mean, 1), torch.sqrt(torch.cat(var, 1))
        return out


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
    """Without geometry it leaves the network's own points out."""

    def __init__(self, geometry=True, place=112, width=288, drop=0.15, geodrop=0.2):
        super().__init__()
        self.geometry, self.geodrop = geometry, geodrop
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
        common = [self.pooled(h["pooled"])]
        s = F.relu(self.place(self.norm(self.placenorm, h["places"]).clamp(-8, 8)))
        own = self.drop(s[:, self.where].reshape(-1, 5, 6 * self.per))
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
        x = self.drop(F.relu(self.norm(self.n1, x)))
        x = x + F.relu(self.norm(self.n2, self.again(x) + self.neighbours(x.mean(1, keepdim=True))))
        o = self.outfinger(self.drop(x))
        t = F.relu(self.bringthumb(c) + self.ownthumb(own[:, 4]))
        t = F.relu(self.nt(self.thumb(torch.cat([t, x.mean(1)], 1))))
        r = self.outrest(self.drop(t))
        out = torch.cat([o[:, :, 0:3].reshape(-1, 12), r[:, 0:2], o[:, :, 3:6].reshape(-1, 12), r[:, 2:4], o[:, :, 6], o[:, :, 7],
                         r[:, 4:10], r[:, 10:15], o[:, :, 8:12].reshape(-1, 16)], 1)
        assert out.shape[1] == WIDTH
        return out

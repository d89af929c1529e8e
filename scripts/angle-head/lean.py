"""A trained deep head as the program runs it: what head.AngleHead says of one
picture, with less work.

On a processor a batch norm over rows, a sum over an axis and a large map that
changes its layout cost far more than their arithmetic, and every small operation
adds a little. So norms are folded into the layers beside them, weighted sums are
products, all places of the hand go through the same operations, and maps turn
between channels first and channels last only where convolutions begin or end:
an engine that keeps maps in a layout of its own does it on the way.

Nothing here learns: a lean head is made of a trained one, by lean, which holds
the two against each other.
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

from head import ACROSS, ALONG, BESIDE, Geometry, Lens, PLACES, Places, strip_matrices
from layout import FINGER_POINTS


def affine(norm):
    """A batch norm as factors and offsets, in full digits."""
    s = 1 / torch.sqrt(norm.running_var.double() + norm.eps)
    if norm.affine:
        s = s * norm.weight.double()
    b = -norm.running_mean.double() * s
    return s, b + norm.bias.double() if norm.affine else b


class Product(nn.Module):
    """x W' + b, for matrices."""

    def __init__(self, weight, bias=None):
        super().__init__()
        self.register_buffer("weight", weight.detach().float())
        self.register_buffer("bias", None if bias is None else bias.detach().float())

    def forward(self, x):
        return F.linear(x, self.weight, self.bias)


def normed(weight, bias, norm):
    """A layer with the batch norm behind it."""
    s, b = affine(norm)
    return Product(weight.double() * s.view(-1, 1), bias.double() * s + b)


def unnormed(weight, bias, scale, offset):
    """Weight and bias of a layer that saw scale x + offset, for one that sees x."""
    w = weight.double()
    return w * scale, bias.double() + (w * offset).sum(1)


def bounds(norm, bound):
    """Where a clamp behind a batch norm lies in front of it. The norm has no
    weights, so that its factors are positive."""
    s, b = affine(norm)
    return (-bound - b) / s, (bound - b) / s


class Bounded(nn.Module):
    """The clamp between a batch norm and a layer, without the norm, which goes
    into the layer."""

    def __init__(self, ends):
        super().__init__()
        self.register_buffer("low", ends[0].float())
        self.register_buffer("high", ends[1].float())

    def forward(self, x):
        return torch.max(torch.min(x, self.high), self.low)


def conv(like, weight, bias, groups=1):
    out = nn.Conv2d(weight.shape[1] * groups, weight.shape[0], like.kernel_size, like.stride, like.padding, groups=groups)
    out.weight.data, out.bias.data = weight.float(), bias.float()
    return out


def scaled(like, norm, whole=False):
    """A convolution with the factors of the batch norm behind it, or with the
    whole of it."""
    s, b = affine(norm)
    return conv(like, like.weight.data.double() * s.view(-1, 1, 1, 1), like.bias.data.double() * s + (b if whole else 0))


def ordered(like):
    """A convolution whose channels are in the order that spread wants."""
    order = torch.arange(like.out_channels).view(-1, 4).t().reshape(-1)
    return conv(like, like.weight.data[order], like.bias.data[order])


def channelwise(norm):
    """A batch norm as a convolution: an engine takes an addition along with it,
    and brings the map into its own layout there."""
    s, b = affine(norm)
    return conv(nn.Conv2d(1, 1, 1), s.view(-1, 1, 1, 1), b, len(s))


def spread(x, c, n):
    """1 x 4 c x n x n -> 1 x c x 2 n x 2 n, as head.shuffle does, for channels
    in the order row, column, channel: so whole runs of numbers move."""
    x = x.permute(0, 2, 3, 1).reshape(n, n, 2, 2 * c).permute(0, 2, 1, 3)
    return x.reshape(1, 2 * n, 2 * n, c).permute(0, 3, 1, 2)


class LeanLens(nn.Module):
    """Of three maps that are added, two are scaled by their convolutions and one
    goes through the norm itself."""

    def __init__(self, lens):
        super().__init__()
        first, second, third = lens.norms
        self.fine, self.same, self.coarse, self.firstnorm = scaled(lens.fine, first), scaled(lens.same, first), ordered(lens.coarse), channelwise(first)
        self.a = scaled(lens.a, second, True)
        self.b, self.up, self.thirdnorm = scaled(lens.b, third), ordered(lens.up), channelwise(third)
        first, second, third = lens.deepnorms
        self.down, self.middle, self.low, self.deepfirst = scaled(lens.down, first), scaled(lens.middle, first), ordered(lens.low), channelwise(first)
        self.c = scaled(lens.c, second, True)
        self.d, self.deepthird = scaled(lens.d, third), channelwise(third)
        self.more = nn.ModuleList(scaled(c, n, True) for c, n in zip(lens.more, lens.morenorms))

    def forward(self, h):
        c = self.coarse(h["f14"])
        x = F.relu(self.fine(h["f56"]) + (self.same(h["f28"]) + self.firstnorm(spread(c, Lens.WIDTH, 14))))
        x = F.relu(self.a(x))
        y = F.relu(self.down(x) + (self.middle(h["f14"]) + self.deepfirst(spread(self.low(h["f7"]), Lens.DEEP, 7))))
        y = F.relu(self.d(F.relu(self.c(y))) + self.deepthird(y))
        for i in range(0, len(self.more), 2):
            y = F.relu(self.more[i + 1](F.relu(self.more[i](y))) + y)
        return F.relu(self.b(x) + self.thirdnorm(spread(self.up(y) + c, Lens.WIDTH, 14))), y


def flat(m, side, c):
    """1 x c x side x side -> side side x c, a row a place."""
    return m.permute(0, 2, 3, 1).reshape(side * side, c)


class Corners(nn.Module):
    """Where to look in the maps: for k samples a place, the rows of the four
    corners around each, places x k x 4, and their weights, places x k x 1 x 4.

    at, way: matrices that make the places, and the ways across the finger
    there, of the vector of points: x of all places, then y. samples: side of
    the map, and how far across the finger, shares of the crop."""

    def __init__(self, at, way, samples):
        super().__init__()
        n, k = len(at) // 2, len(samples)
        self.n, self.k = n, k
        self.at, self.way = Product(at), Product(way)
        side, across = (torch.tensor(v).float() for v in zip(*samples))
        self.grid = Product(torch.stack([side, side * across], 1), torch.full((k,), -.5))
        stride = torch.stack([torch.ones(k), side])
        corner = torch.tensor([[0., 0.], [1., 0.], [0., 1.], [1., 1.]])
        self.register_buffer("last", (side - 1.001).repeat(n))
        self.register_buffer("stride", stride.repeat(1, n))
        self.register_buffer("offset", torch.matmul(corner, stride).repeat(1, n))
        # A corner's weight is a product of one line in x and one in y.
        for axis, name in enumerate("xy"):
            slope = torch.zeros(4, 2)
            slope[:, axis] = 2 * corner[:, axis] - 1
            self.register_buffer("slope" + name, slope)
            self.register_buffer("base" + name, 1 - corner[:, axis:axis + 1])

    def forward(self, points):
        n, k = self.n, self.k
        d = self.way(points).reshape(2, n)
        d = d / torch.sqrt((d * d).sum(0, keepdim=True) + 1e-6)
        g = torch.cat([self.at(points).reshape(2 * n, 1), d.reshape(2 * n, 1)], 1)
        g = torch.min(F.relu(self.grid(g)).reshape(2, n * k), self.last)
        low = torch.floor(g)
        t = g - low
        weight = (torch.matmul(self.slopex, t) + self.basex) * (torch.matmul(self.slopey, t) + self.basey)
        row = (low * self.stride).sum(0, keepdim=True) + self.offset
        return row.t().long().reshape(n, k, 4), weight.t().reshape(n, k, 1, 4)


def directions(at, way, row, width):
    """Matrices of places and of directions over points as those that Corners
    wants; row says where in the vector, which has that width, a point's x is."""
    n = len(at)
    a, w = torch.zeros(2 * n, width), torch.zeros(2 * n, width)
    for p, r in row.items():
        a[:n, r], a[n:, r + 1] = at[:, p], at[:, p]
        w[:n, r + 1], w[n:, r] = -way[:, p], way[:, p]
    return a, w


class Taken(nn.Module):
    """What several maps have at the samples, a row a place: map after map, in
    each sample after sample. shape: each map's first sample, the one behind its
    last, and its channels."""

    def __init__(self, places, shape):
        super().__init__()
        self.places, self.shape = places, shape

    def forward(self, row, weight, maps):
        # A product with the weights, since adding up over an axis is slow.
        return torch.cat([torch.matmul(weight[:, a:b], F.embedding(row[:, a:b], m)).reshape(self.places, (b - a) * c)
                          for m, (a, b, c) in zip(maps, self.shape)], 1)


class LeanGeometry(nn.Module):
    """The rough angles, as products with constant matrices. Of the five fingers
    5 x (FINGER + 4), the last four telling which long finger it is, and of the
    hand 1 x GLOBAL; bounded, but not yet normed."""

    VECTORS = 46  # of Geometry's; the last three, the palm's size, are among them

    def __init__(self, geo, finger, whole):
        super().__init__()
        n = 3 * self.VECTORS
        bones = range(20, 41)  # those that are made unit vectors; the last one lies across the palm
        q = torch.zeros(n, 63)
        for j in range(3):
            q[j::3, j::3] = geo.linear[:self.VECTORS]
        self.image, self.world = Product(q * .01), Product(q * 10)
        size, length, eps = torch.zeros(3, n), torch.zeros(n, n), torch.ones(n)
        for row, v in zip(size, (43, 42, 45)):  # from the wrist to the points 9, 5, 17
            row[3 * v:3 * v + 3] = 1
        for v in bones:
            length[3 * v:3 * v + 3, 3 * v:3 * v + 3] = 1
            eps[3 * v:3 * v + 3] = 1e-6
        self.size, self.mean = Product(size, torch.full((3,), 1e-6)), Product(torch.full((1, 3), 1 / 3), torch.tensor([1e-3]))
        self.length = Product(length, eps)  # other vectors are divided by one
        self.hand = Product(torch.full((1, 1), 2.), torch.tensor([-1.]))

        # Of a bone u and the next, v: products whose sums are u . v, 15 rows,
        # and the axes of u x v, 45 rows, which then meet those of the palm.
        u, v, terms = [], [], []
        for b in range(15):
            i = 3 * (20 + b // 3 * 4 + b % 3)
            for j in range(3):
                k, l = (j + 1) % 3, (j + 2) % 3
                u, v = u + [i + j, i + k, i + l], v + [i + 3 + j, i + 3 + l, i + 3 + k]
                terms += [(b, 1), (15 + 3 * b + j, 1), (15 + 3 * b + j, -1)]
        turn, radial, total = torch.zeros(60, len(u)), torch.zeros(60, n), torch.zeros(30, 60)
        for column, (row, sign) in enumerate(terms):
            turn[row, column] = sign
        for k in range(45):
            radial[15 + k, 3 * bones[-1] + k % 3] = 1
        for b in range(15):  # sines, then cosines
            total[b, 15 + 3 * b:18 + 3 * b] = 1
            total[15 + b, b] = 1
        self.turn, self.radial, self.total = Product(turn), Product(radial), Product(total)
        self.register_buffer("u", torch.tensor(u))
        self.register_buffer("v", torch.tensor(v))
        self.register_buffer("plain", (torch.arange(60) < 15).float().view(1, 60))

        # A row has the vectors of both sets, their sines and cosines,
        # handedness, presence, zero and one; features are picked from it.
        hand = 2 * n + 60
        fingers, which = [], []
        for f in range(5):
            for at, angle in ((0, 2 * n), (n, 2 * n + 30)):
                fingers += [at + i + 12 * f + j for i in (0, 60) for j in range(12)]
                fingers += [angle + i + 3 * f + j for i in (0, 15) for j in range(3)]
            which += [hand + 3 if f == i else hand + 2 for i in range(4)]
        fingers, which = torch.tensor(fingers).view(5, -1), torch.tensor(which).view(5, -1)
        palm = torch.tensor([at + 3 * 41 + i for at in (0, n) for i in range(15)] + [hand, hand + 1])
        self.register_buffer("constant", torch.tensor([[0., 1.]]))
        self.register_buffer("fingers", torch.cat([fingers, which], 1).reshape(-1))
        self.register_buffer("palm", palm)
        far = torch.full((hand + 4,), 1e30, dtype=torch.float64)  # for what no norm belongs to
        ends = -far, far
        for end, f, g in zip(ends, bounds(finger, 6), bounds(whole, 6)):
            end[fingers], end[palm] = f.expand(5, -1), g
        self.within = Bounded(ends)

    def forward(self, h):
        q = torch.cat([self.image(h["landmarks"]), self.world(h["world"])], 0)
        q = q / self.mean(torch.sqrt(self.size(q * q)))
        q = q / torch.sqrt(self.length(q * q))
        uv = self.turn(q.index_select(1, self.u) * q.index_select(1, self.v))
        angles = self.total(uv * (self.radial(q) * self.hand(h["handedness"]) + self.plain))
        row = self.within(torch.cat([q.reshape(1, -1), angles.reshape(1, -1), h["handedness"], h["presence"], self.constant], 1))
        return row.index_select(1, self.fingers).reshape(5, -1), row.index_select(1, self.palm)


class LeanHead(nn.Module):
    """One picture's tensors -> 1 x WIDTH."""

    # Channels of the maps as they are sampled; what the lens has beside f28 is
    # sampled with it.
    FINE, MID, COARSE, DEEP, LOW = 24, 40 + Lens.WIDTH, 112, Lens.DEEP, 192

    def __init__(self, head):
        super().__init__()
        self.lens = LeanLens(head.lens)
        self.places(head)
        self.moves(head)
        self.strips(head)
        self.rest(head)

    def places(self, head):
        """The places in the order in which the fingers read them."""
        where = head.where
        m, row = Places().linear, {p: 3 * p for p in range(21)}
        samples = [(side, a) for side in (56, 28) for a in (0, BESIDE, -BESIDE)] + [(14, 0), (7, 0)]
        self.corners = Corners(*directions(m[where], m[PLACES + where], row, 63), samples)
        self.taken = Taken(len(where), [(0, 3, self.FINE), (3, 6, self.MID), (6, 7, self.COARSE), (6, 7, self.DEEP), (7, 8, self.LOW)])

        def columns(net, lens):
            """Those of the landmark network's maps and of the lens's, as taken
            has them."""
            fine, mid, coarse, low = net.split([3 * self.FINE, 3 * 40, self.COARSE, self.LOW], -1)
            wide, deep = lens.split([3 * Lens.WIDTH, self.DEEP], -1)
            mid = torch.cat([mid.unflatten(-1, (3, -1)), wide.unflatten(-1, (3, -1))], -1).flatten(-2)
            return torch.cat([fine, mid, coarse, deep, low], -1)

        norms = head.placenorm, head.lensnorm
        self.within = Bounded([columns(*v) for v in zip(*(bounds(n, 8) for n in norms))])
        self.place = Product(*unnormed(columns(head.place.weight, head.lensplace.weight), head.place.bias,
                                       *(columns(*v) for v in zip(*(affine(n) for n in norms)))))

    def moves(self, head):
        """Where the points of the long fingers are moved to, a finger a row, x
        and y of each."""
        self.fingerpoints = Product(torch.eye(63)[[3 * p + i for f in FINGER_POINTS for p in f for i in range(2)]])
        self.better = Product(head.better[0].weight, head.better[0].bias)
        self.move = Product(10 * head.better[2].weight, 10 * head.better[2].bias)
        self.gate = Product(head.gate.weight.repeat_interleave(2, 0), head.gate.bias.repeat_interleave(2))
        self.seen = Product(head.points.conv.weight.flatten(1), head.points.conv.bias)
        self.register_buffer("grid", head.points.grid.t().contiguous())

    def strips(self, head):
        """The strips lie along the points so moved, behind the network's own in
        one vector."""
        strip, k = head.strip, len(ACROSS)
        row = {0: 0, **{p: 63 + 2 * i for i, p in enumerate(sum(FINGER_POINTS, []))}}
        at, way = strip_matrices()
        samples = [(side, a / 224) for side in (56, 28) for a in ACROSS]
        self.stripcorners = Corners(*directions(at / 224, way / 224, row, 63 + 32), samples)
        self.striptaken = Taken(4 * ALONG, [(0, k, self.FINE), (k, 2 * k, self.MID)])
        # The trained layer has the maps side by side in each sample.
        columns = torch.arange(k * strip.channels).view(k, strip.channels).split([self.FINE, self.MID], 1)
        columns = torch.cat([c.reshape(-1) for c in columns])
        around = lambda ends: [v.repeat(k)[columns] for v in ends]
        self.stripwithin = Bounded(around(bounds(strip.norm, 8)))
        self.first = normed(*unnormed(strip.first.weight[:, columns], strip.first.bias, *around(affine(strip.norm))), strip.n1)
        self.second = normed(strip.second.weight, strip.second.bias, strip.n2)
        i = torch.arange(ALONG)
        beside = torch.stack([(i - 1).clamp(min=0), i, (i + 1).clamp(max=ALONG - 1)], 1)
        self.register_buffer("beside", (torch.arange(4).view(4, 1, 1) * ALONG + beside).view(-1, 3))

    def rest(self, head):
        """What is added at the trained head's inner layers is one product here,
        of inputs side by side."""
        self.geo = LeanGeometry(head.geo, head.geofinger, head.geoglobal)
        n = head.pooled.out_features
        s, b = affine(head.common)
        w, o = unnormed(head.geolinear.weight, head.geolinear.bias, *affine(head.geoglobal))
        self.pooled = Product(head.pooled.weight.double() * s[:n, None], head.pooled.bias.double() * s[:n] + b[:n])
        self.geolinear = Product(w * s[n:, None], o * s[n:] + b[n:])

        def own(layer, which):
            """Over a finger's places, its features and which finger it is."""
            p = layer.in_features - Geometry.FINGER
            w, b = unnormed(layer.weight[:, p:], layer.bias, *affine(head.geofinger))
            return torch.cat([layer.weight[:, :p].double(), w, which.double()], 1), b

        w, b = own(head.own, head.which.t())
        self.fingers = normed(torch.cat([w, head.strip.out.weight.double()], 1), b + head.strip.out.bias + head.bring.bias, head.n1)
        self.bring = Product(head.bring.weight.double() * affine(head.n1)[0][:, None])
        self.again = normed(head.again.weight, head.again.bias, head.n2)
        self.neighbours = Product(head.neighbours.weight.double() * affine(head.n2)[0][:, None])
        w, b = own(head.ownthumb, torch.zeros(head.ownthumb.out_features, 4))
        self.bringthumb = Product(torch.cat([head.bringthumb.weight.double(), w], 1), b + head.bringthumb.bias)
        self.thumb = normed(head.thumb.weight, head.thumb.bias, head.nt)
        self.outfinger = Product(head.outfinger.weight, head.outfinger.bias)
        self.outrest = Product(head.outrest.weight, head.outrest.bias)
        o, r = torch.arange(48).view(4, 12), torch.arange(48, 63)
        self.register_buffer("order", torch.cat([o[:, 0:3].reshape(-1), r[0:2], o[:, 3:6].reshape(-1), r[2:4], o[:, 6], o[:, 7],
                                                 r[4:15], o[:, 8:12].reshape(-1)]))

    def forward(self, h):
        """Returns 1 x WIDTH, and where it puts the points of the long fingers,
        1 x 32: pixels of the crop, x and y of each from MCP to tip."""
        lens, deep = self.lens(h)
        lens = flat(lens, 28, Lens.WIDTH)
        fine, mid = flat(h["f56"], 56, self.FINE), torch.cat([flat(h["f28"], 28, 40), lens], 1)
        maps = [fine, mid, flat(h["f14"], 14, self.COARSE), flat(deep, 14, self.DEEP), flat(h["f7"], 7, self.LOW)]
        s = self.within(self.taken(*self.corners(h["landmarks"]), maps))
        s = F.relu(self.place(s)).reshape(5, -1)
        fingers, thumb = s[0:4], s[4:5]
        moved = self.fingerpoints(h["landmarks"]).reshape(4, 8) + self.move(F.relu(self.better(fingers)))
        seen = torch.matmul(self.grid, torch.exp(self.seen(lens).clamp(-30, 30)))
        seen = (seen[0:2] / seen[2:3]).t().reshape(4, 8)
        moved = moved + torch.sigmoid(self.gate(fingers)) * (seen - moved)
        moved = moved.reshape(1, 32)
        points = torch.cat([h["landmarks"], moved], 1)
        x = self.stripwithin(self.striptaken(*self.stripcorners(points), [fine, mid]))
        x = F.embedding(self.beside, F.relu(self.first(x))).reshape(4 * ALONG, -1)
        along = F.relu(self.second(x)).reshape(4, -1)

        f, g = self.geo(h)
        c = torch.cat([F.relu(self.pooled(h["pooled"])), F.relu(self.geolinear(g))], 1)
        x = F.relu(self.fingers(torch.cat([fingers, f[0:4], along], 1)) + self.bring(c))
        x = x + F.relu(self.again(x) + self.neighbours(x.mean(0, keepdim=True)))
        t = F.relu(self.bringthumb(torch.cat([c, thumb, f[4:5]], 1)))
        t = F.relu(self.thumb(torch.cat([t, x.mean(0, keepdim=True)], 1)))
        return torch.cat([self.outfinger(x).reshape(1, 48), self.outrest(t)], 1).index_select(1, self.order), moved


# Largest difference to the trained head, as a share of its outputs: a hundredth
# of a degree.
TOLERANCE = 3e-4


def lean(head, h):
    """The lean form of a head that has one, tried on what the landmark network
    said of a picture; other heads as they are."""
    if not (head.geometry and head.lens and head.strip and head.refine and head.points):
        return head
    m = LeanHead(head).eval()
    want, got = head(h), m(h)[0]
    off = float(((got - want).abs() / want.abs().clamp(min=1)).max())
    if not off < TOLERANCE:
        raise ValueError(f"the lean form of the head differs from the head by {off:.2g}: bring lean.py in line with head.py")
    return m

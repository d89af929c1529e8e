"""Trains an angle head. See README.md for the recipe.

    python3 train.py out=FOLDER data=FOLDER model=hand_landmark.onnx seconds=380    with a graphics processor
    python3 train.py out=FOLDER rows=FOLDER layout=layout.json steps=2000            from rows.py, without

Arguments are name=value:

    out       where weights, log and results go
    heads     names from HEADS below, trained side by side on the same pictures
    data, model, photos, counts   as in source.py; pictures are read while it
              trains
    rows, layout                  what rows.py wrote, instead
    seconds, until or steps       how long
    batch, lr, seed, noise=0      the latter leaves feature statistics alone
    reuse     steps for each new batch of pictures; cache, batches kept; slots,
              shards of crops kept
    first, step, delete           which shards this trainer takes, and by how
              many trainers a shard is taken before it is deleted
    vary=1                        see Source.rendered
    save      seconds between copies of the weights as they are
    resume    weights to start from, those of the head "like" where there are
              none of a head's own name; evaluate=1 only reports on them
    only      trains only the layers whose names have this in them
    compile=1 lets PyTorch compile the heads, where it can
    keep=1    writes all test predictions beside the results

Several processes under torchrun, one a graphics processor, train the same heads:
each on batches of its own, and every few steps they go on from the mean of their
weights. The first writes the results, the others into folders within out.
"""
import copy
import glob
import json
import math
import os
import sys
import time

import numpy as np
import torch
import torch.distributed as dist
import torch.nn as nn
import torch.nn.functional as F

import metrics
from augment import Random
from data import Cache
from head import AngleHead
from layout import DIP, MCP, PIP, SCALE, Labels, split
from source import NetReader, Source, disturb, wander

# What each head is made of, from the least to the most. All learn from finger
# counts where there are any.
HEADS = {
    "plain": dict(),
    "strip": dict(strip=True),
    "lens": dict(lens=True),
    "both": dict(lens=True, strip=True),
    "refined": dict(lens=True, strip=True, refine=True),
    "deep": dict(lens=True, strip=True, refine=True, deep=True),
    "deeper": dict(lens=True, strip=True, refine=True, deep=True, more=2),
}


class Args(dict):
    def __init__(self, argv):
        super().__init__(a.split("=", 1) for a in argv)

    def num(self, name, default):
        return type(default)(self.get(name, default))


def laplace(m, ls, t, w):
    """Negative log likelihood of a Laplace distribution, weighted by the root
    of its scale so that uncertain joints still teach the angle."""
    ls = ls.clamp(-5, 2)
    return ((m - t).abs() * torch.exp(-ls) + ls) * torch.exp(.5 * ls.detach()) * w


class Balance:
    """How often each angle of each joint comes, in steps of 10 degrees, and by
    that a weight that lies between equal pictures and equal angles."""

    BINS = 18

    def __init__(self, device):
        self.share = torch.ones(14, self.BINS, device=device) / self.BINS

    @torch.no_grad()
    def __call__(self, degrees):
        i = ((degrees + 40) / 10).long().clamp(0, self.BINS - 1).T  # joint x picture
        now = torch.zeros_like(self.share).scatter_add_(1, i, torch.ones_like(i, dtype=self.share.dtype)) / i.shape[1]
        self.share.lerp_(now, .02)
        w = (self.share + .004).rsqrt().gather(1, i)
        return (w / w.mean(1, keepdim=True)).clamp(max=3).T


class Loss:
    def __init__(self, labels, device):
        w = torch.ones(14)
        w[PIP] = 1.5
        w[PIP[2]] = 1.9
        w[12:] = .6
        self.w, self.labels, self.balance = w.to(device), labels, Balance(device)

    def __call__(self, o, y):
        """Rare angles of the MCP and PIP joints weigh more, and so do PIP
        joints about straight or past it in a view from the side, where the
        program has to tell the two apart."""
        g = lambda n: self.labels.get(y, n)
        o = split(o.float())
        w = self.w.repeat(len(y), 1)
        w[:, MCP + PIP] *= self.balance(g("flexion"))[:, MCP + PIP]
        side = ((g("view")[:, :1].abs() - 90).abs() < 35).float()
        w[:, PIP] *= 1 + side * (g("flexion")[:, PIP] < 18).float()
        l = laplace(o["angles"], o["logscale"], g("flexion") / SCALE, w).mean(1)
        l = l + .3 * laplace(o["bend"], o["bendscale"], g("bend") / SCALE, 1.).mean(1)
        l = l + .3 * ((o["normal"] - g("normal")).abs().mean(1) + (o["axis"] - g("axis")).abs().mean(1))
        l = l + .3 * F.binary_cross_entropy_with_logits(o["visible"], g("visible"), reduction="none").mean(1)
        return l.mean()


    def points(self, moved, y):
        """How far the moved points are off, in steps of 10 pixels, no more than
        four of them."""
        true = (self.labels.get(y, "points").reshape(-1, 21, 2)[:, 5:] + .5) * 224
        return ((moved - true).abs() / 10).clamp(max=4).mean()


def weak_loss(o, seen, h):
    """Finger counts: an up finger's PIP lies within -8..16 degrees, its DIP
    within -8..22 and its MCP within -22..42; a folded or touching finger's PIP
    lies above 45. Of real hands seen from the palm or the back the network's own
    points tell the turn well, so the palm lies within 12 degrees of where they
    have it. Inside the bounds nothing is asked."""
    a = split(o.float())["angles"] * SCALE
    up, down = (seen > 0).float(), (seen < 0).float()
    out = lambda v, lo, hi: F.relu(lo - v) + F.relu(v - hi)
    l = up * (out(a[:, PIP], -8, 16) + .5 * out(a[:, DIP], -8, 22) + .5 * out(a[:, MCP], -22, 42)) + down * out(a[:, PIP], 45, 122)
    turned = (F.normalize(split(o.float())["normal"], dim=1) - metrics.palm(h["world"].float(), h["handedness"].float())).norm(dim=1)
    return l.mean() / SCALE + F.relu(turned - 2 * math.sin(math.radians(6))).mean()


class Trainer:
    def __init__(self, a):
        self.a, self.t0 = a, time.time()
        self.rank, self.world = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
        self.device = torch.device(f"cuda:{self.rank}" if torch.cuda.is_available() else "cpu")
        self.half = self.device.type == "cuda"
        if self.half:
            torch.cuda.set_device(self.device)
        if self.world > 1:
            dist.init_process_group("nccl" if self.half else "gloo")
        self.seed = seed = a.num("seed", 1) + self.rank
        torch.manual_seed(seed)
        np.random.seed(seed)
        if self.half:
            torch.backends.cudnn.benchmark = True
            torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        self.out = os.path.join(a["out"], str(self.rank)) if self.rank else a["out"]
        os.makedirs(self.out, exist_ok=True)
        self.r = Random(self.device, seed)
        self.names = a.get("heads", "weak").split(",")
        self.heads = nn.ModuleDict({n: AngleHead(**HEADS[n]) for n in self.names}).to(self.device, memory_format=torch.channels_last)
        if "resume" in a:
            w = torch.load(a["resume"], map_location=self.device)["heads"]
            own = self.heads.state_dict()

            def of(k):
                """What is there of a weight; a layer that has grown keeps the
                rest as new."""
                v = w.get(k, w.get(".".join([a.get("like", ""), *k.split(".")[1:]])))
                if v is None or v.ndim != own[k].ndim:
                    return own[k]
                v = v.to(own[k].dtype)
                if v.shape == own[k].shape:
                    return v
                q = own[k].clone()
                q[tuple(slice(n) for n in v.shape)] = v
                return q

            self.heads.load_state_dict({k: of(k) for k in own})
        self.ema = copy.deepcopy(self.heads).eval()
        self.call = {n: torch.compile(h) if a.num("compile", 0) else h for n, h in self.heads.items()}
        self.results = {}
        self.prepare()

    def log(self, *what):
        print("[%.0f]" % (time.time() - self.t0), *what, flush=True)

    def prepare(self):
        """Test rows, and the source or the rows to train on."""
        a, self.tests, self.photos, self.counts = self.a, {}, None, None
        if "rows" in a:
            self.labels, self.source = Labels(a["layout"]), None
            load = lambda n: torch.load(os.path.join(a["rows"], n + ".pt")) if os.path.exists(os.path.join(a["rows"], n + ".pt")) else None
            self.tests = {n: load(n) for n in ("test", "hyper") if load(n)}
            self.photos, self.counts, self.counted = load("photos"), load("counts"), load("counted")
        else:
            s = self.source = Source(a["data"], self.device, NetReader(a["model"], self.device), self.seed, a.get("photos"), a.get("counts"), a.num("limit", 0))
            self.labels = s.labels
            for n in ("test", "hyper"):
                if os.path.exists(os.path.join(a["data"], n + ".done")):
                    self.tests[n] = s.tests(os.path.join(a["data"], n), .6)
            if s.photos:
                self.photos = (s.plain(s.photos), s.truth)
            if s.counts:
                self.counts = (s.plain(s.counts), s.updown, s.held)
        self.log("test pictures", {k: len(v[1]) for k, v in self.tests.items()}, "photographs", self.photos and len(self.photos[0]["pooled"]),
                 "counts", self.counts and len(self.counts[1]))

    @torch.no_grad()
    def predict(self, rows):
        n, outs = len(rows["pooled"]), {k: [] for k in self.names}
        for i in range(0, n, 250):
            x = {k: v[i:i + 250].to(self.device).float() for k, v in rows.items()}
            for k in self.names:
                outs[k].append(self.ema[k](x))
        return {k: torch.cat(v) for k, v in outs.items()}

    def report(self, tag):
        self.ema.eval()
        res, kept = {k: {} for k in self.names}, {}
        sd = lambda s: s * 1.15
        few = lambda h: {k: h[k].float() for k in ("landmarks", "world", "presence", "handedness")}
        for name, (rows, y) in self.tests.items():
            o = self.predict(rows)
            kept[name] = (o, few(rows), y)
            for k, v in o.items():
                a, s = metrics.degrees(split(v))
                res[k][name] = metrics.hyperextension(a, self.labels, y) if name == "hyper" else metrics.rendered(a, sd(s), self.labels, y)
        if self.photos:
            rows, truth = self.photos
            o = self.predict(rows)
            kept["photos"] = (o, few(rows), truth)
            both = metrics.naive(few(rows))[2]
            res["naive"] = dict(photos=metrics.photographs(both, truth))
            truth = {**truth, "bend": truth["mcp"]}
            for k, v in o.items():
                q = split(v)
                a, s = metrics.degrees(q)
                own = {"mcp": a[:, MCP], "bend": q["bend"] * SCALE, "pip": a[:, PIP], "dip": a[:, DIP], "thumb": a[:, 12:]}
                res[k]["photos"] = metrics.photographs(own, truth)
                res[k]["photos half naive"] = metrics.photographs({c: (own[c].abs() + both["mcp" if c == "bend" else c]) / 2 for c in own}, truth)
                e = (a[:, PIP].abs() - truth["pip"]).abs()
                res[k]["photos"]["pip spread"] = dict(in1=metrics.num((e < sd(s[:, PIP])).float().mean(), 3), in2=metrics.num((e < 2 * sd(s[:, PIP])).float().mean(), 3),
                                                      quarters=[metrics.num(c.mean(), 1) for c in e.flatten()[s[:, PIP].flatten().argsort()].chunk(4)])
        if self.counts:
            rows, up, held = self.counts
            o = self.predict(rows)
            kept["counts"] = (o, few(rows), up)
            for k, v in o.items():
                a, _ = metrics.degrees(split(v))
                turned = metrics.turned(split(v)["normal"], rows)
                res[k]["counts"] = dict(all=metrics.counts(a, up), held=metrics.counts(a[held], up[held]), turned=metrics.num(turned.mean(), 1), turnedheld=metrics.num(turned[held].mean(), 1))
        if "keep" in self.a and tag == "end":
            half = lambda v: {k: half(q) for k, q in v.items()} if isinstance(v, dict) else v.half().cpu()
            torch.save({k: [half(q) for q in v] for k, v in kept.items()}, os.path.join(self.out, "predictions.pt"))
        self.results[tag] = res
        with open(os.path.join(self.out, "results.json"), "w") as f:
            json.dump(self.results, f, indent=0)
        for k, r in res.items():
            self.log(tag, k, json.dumps(self.brief(r)))

    @staticmethod
    def brief(r):
        b = {}
        if "test" in r:
            b["test"] = {k: r["test"][k]["seen"] for k in ("mcp", "pip", "dip", "thumb")}
            b["in"] = [r["test"]["pip"]["in1"], r["test"]["pip"]["in2"]]
        if "side nearest" in r.get("hyper", {}):
            h = r["hyper"]["side nearest"]
            b["hyper"] = [h["mean"], h["mae"], h["found_at_1pc"]]
        for n in ("photos", "photos half naive"):
            if n in r:
                b[n] = {k: r[n][k]["mae"] for k in ("mcp", "bend", "pip", "dip", "thumb") if k in r[n]}
                b[n]["over20"], b[n]["bias"], b[n]["bent"] = r[n]["pip"]["over20"], r[n]["pip"]["bias"], r[n]["pip"]["bent"]
        if "counts" in r:
            b["counts"] = [r["counts"][s][k] for s in ("all", "held") for k in ("up", "folded", "below6")] + [r["counts"]["turned"], r["counts"]["turnedheld"]]
        return b

    def fill(self, cache, real):
        """Takes all rows of a folder into memory."""
        for path in sorted(glob.glob(os.path.join(self.a["rows"], "train*.pt"))):
            rows, y = torch.load(path)
            cache.put({**{k: v.to(self.device) for k, v in rows.items()}, "y": y.to(self.device)})
        if real is not None:
            rows, seen = self.counted
            real.put({**{k: v.to(self.device) for k, v in rows.items()}, "seen": seen.to(self.device)})

    def train(self):
        a, r = self.a, self.r
        batch, lr, steps, reuse = a.num("batch", 1024), a.num("lr", 2.5e-3), a.num("steps", 10 ** 9), a.num("reuse", 6)
        until = float(a["until"]) if "until" in a else time.time() + a.num("seconds", 1e6)
        weak = self.counts is not None
        photos = batch // 8 if weak else 0
        if self.source is None:
            n = sum(len(torch.load(p)[1]) for p in glob.glob(os.path.join(a["rows"], "train*.pt")))
            cache, real = Cache(n), Cache(len(self.counted[1])) if weak else None
            self.fill(cache, real)
            self.log(n, "rows")
        else:
            store = self.source.store(a.num("slots", 36), until, a.num("first", 0), a.num("step", 1), a.num("delete", 0), self.seed)
            cache, real = Cache(a.num("cache", 180) * batch), Cache(100 * photos) if weak else None
            store.wait()
        loss = Loss(self.labels, self.device)
        mine = [p for n, p in self.heads.named_parameters() if a.get("only", "") in n]
        decay, plain = [p for p in mine if p.ndim > 1], [p for p in mine if p.ndim <= 1]
        opt = torch.optim.AdamW([dict(params=decay, weight_decay=.03), dict(params=plain, weight_decay=0.)], lr=lr, **(dict(fused=True) if self.half else {}))
        t1 = saved = shown_at = time.time()
        it, made, over = 0, 0, False
        timed = until < time.time() + 1e5
        while it < steps and not over:
            done = max((time.time() - t1) / (until - t1) if timed else 0, it / steps)
            now = lr * min(1, (it + 1) / 300) * (.5 * (1 + math.cos(math.pi * min(1, done))) + .002)
            for g in opt.param_groups:
                g["lr"] = now
            if self.source is not None and it % reuse == 0:
                for _ in range(8 if it == 0 and self.half else 1):
                    rows, y = self.source.rendered(store, batch, a.num("vary", 0))
                    cache.put(dict(rows, y=y))
                    if weak:
                        rows, seen = self.source.counted(photos)
                        real.put(dict(rows, seen=seen))
                    made += batch
            h = cache.batch(batch, r)
            y = h.pop("y")
            w = real.batch(photos, r) if weak else None
            seen = w.pop("seen") if weak else None
            if not self.half:
                h = {k: v.float() for k, v in h.items()}
            given = self.disturbed(h, w) if a.num("noise", 1) else h
            given["at"] = wander(r, h["landmarks"].float())
            if weak:
                w["at"] = w["landmarks"]
                given = {k: torch.cat([v, w[k].to(v.dtype)]) for k, v in given.items()}
            shown = {}
            self.heads.train()
            opt.zero_grad(set_to_none=True)
            for n in self.names:
                with torch.autocast(self.device.type, torch.bfloat16, enabled=self.half):
                    o = self.call[n](given)
                o, moved, seen_at = o if isinstance(o, tuple) else (o, None, None)
                l = loss(o[:batch], y)
                parts = {n: l.detach()}
                if moved is not None:
                    p = loss.points(moved[:batch], y)
                    parts[n + " points"], l = p.detach(), l + .3 * p
                if seen_at is not None:
                    p = loss.points(seen_at[:batch], y)
                    parts[n + " seen"], l = p.detach(), l + .3 * p
                    if weak:
                        # On photographs the network's own points are the teacher.
                        teacher = w["landmarks"].float().reshape(-1, 21, 3)[:, 5:, :2]
                        l = l + .1 * ((seen_at[batch:] - teacher).abs() / 10).clamp(max=4).mean()
                if weak:
                    wl = weak_loss(o[batch:], seen, w)
                    parts[n + " counts"], l = wl.detach(), l + .4 * min(1, it / 500) * wl
                if it % 250 == 0:
                    shown.update({k: float(v) for k, v in parts.items()})
                l.backward()
            for n in self.names:
                nn.utils.clip_grad_norm_(self.heads[n].parameters(), 4.)
            opt.step()
            over = time.time() > until
            if self.world > 1:
                over = it % self.MEET == 0 and self.meet(over)
            self.average(it)
            if it % 250 == 0:
                self.log("step", it, "loss", {k: round(v, 3) for k, v in shown.items()}, "steps/s %.1f" % (250 / (time.time() - shown_at)))
                shown_at = time.time()
            it += 1
            if time.time() - saved > a.num("save", 1e9):
                saved = time.time()
                self.save()
        self.log("trained", it, "steps in %.0f s" % (time.time() - t1), "on", made or cache.n, "pictures")
        self.results["training"] = dict(steps=it, batch=batch, pictures=made or cache.n, seconds=round(time.time() - t1))
        self.save()
        self.report("end")

    # Steps between two meetings of trainers side by side.
    MEET = 8

    @torch.no_grad()
    def meet(self, over):
        """The trainers go on from the mean of their weights. Reports whether one
        of them is out of time, so that all stop at the same step."""
        mine = [v for v in self.heads.state_dict().values() if v.is_floating_point()]
        sums = torch.cat([*(v.flatten() for v in mine), torch.tensor([float(over)], device=self.device)])
        dist.all_reduce(sums)
        sums /= self.world
        at = 0
        for v in mine:
            v.copy_(sums[at:at + v.numel()].view_as(v))
            at += v.numel()
        return bool(sums[-1] > 0)

    def save(self):
        path = os.path.join(self.out, "heads.pt")
        torch.save({"heads": {k: (v.half() if v.dtype == torch.float32 else v) for k, v in self.ema.state_dict().items()},
                    "specs": {n: HEADS[n] for n in self.names}}, path + ".tmp")
        os.replace(path + ".tmp", path)

    def disturbed(self, h, real):
        """The rows with other feature statistics, some of them those of the
        finger counts where there are any."""
        r, batch = self.r, len(h["pooled"])
        other = r.pick(batch, (batch,))
        other = [h[k][other] for k in ("mean", "deviation")]
        if real is not None:
            lend = r.uniform((batch,)) < .6
            which = r.pick(len(real["pooled"]), (batch,))
            other = [torch.where(lend[:, None], real[k][which], o) for k, o in zip(("mean", "deviation"), other)]
        return disturb(r, h, other, more=True)

    @torch.no_grad()
    def average(self, it):
        d = min(.999, it / (it + 20)) if "average" not in self.a else self.a.num("average", .99)
        both = [(p, q.detach()) for of in ("parameters", "buffers") for p, q in zip(getattr(self.ema, of)(), getattr(self.heads, of)())]
        mine, theirs = zip(*((p, q) for p, q in both if p.dtype.is_floating_point))
        torch._foreach_mul_(mine, d)
        torch._foreach_add_(mine, theirs, alpha=1 - d)
        for p, q in both:
            if not p.dtype.is_floating_point:
                p.copy_(q)


if __name__ == "__main__":
    args = Args(sys.argv[1:])
    t = Trainer(args)
    t.report("end") if "evaluate" in args else t.train()
    if t.world > 1:
        dist.destroy_process_group()

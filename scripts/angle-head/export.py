"""Puts trained heads behind the landmark network, in one ONNX file.

    python3 export.py model=hand_landmark.onnx weights=heads.pt,more.pt heads=full,weak out=hand_angles.onnx [calibration=calibration.json]

The nodes and weights of the landmark network are copied as they are, and the
head's are added after them, so the network's own outputs stay the same to the
bit. A deep head is put in its lean form (lean.py). Angles of several heads are
averaged. New outputs:

    angles  1 x 14  degrees, flexion positive, in the order of hand.Joint
    spreads 1 x 14  standard deviations, degrees
    normal  1 x 3   out of the palm, axes of the crop: x right, y down, z away
    axis    1 x 3   from the wrist to the middle MCP
    visible 1 x 21  0 to 1
    bends   1 x 4   degrees at the MCPs, index to little, between the line from
                    the wrist and the proximal phalanx; unsigned, abduction in it
    fingers 1 x 32  x and y of the points of the long fingers, from MCP to tip, as
                    pixels of the crop: where a deep head puts them

    python3 export.py model=hand_landmark.onnx reader=reader.onnx

writes the graph by which the features command reads pictures for training.
"""
import io
import json
import math
import os
import sys

import onnx
from onnx import helper, numpy_helper
import torch
import torch.nn as nn

from head import AngleHead, Reader
from landmark_net import LandmarkNet
from lean import LeanHead, lean
from layout import SCALE, split

INPUTS = ("f56", "f28", "f14", "f7", "pooled", "landmarks", "world", "presence", "handedness")
OUTPUTS = {"angles": 14, "spreads": 14, "normal": 3, "axis": 3, "visible": 21, "bends": 4, "fingers": 32}
# A Laplace distribution of scale b has the standard deviation b times this.
LAPLACE = 2 ** 0.5


class Ensemble(nn.Module):
    """Several heads as one. calibration holds for each joint the factor and the
    power of the stated scale, fitted on held-out renders: sd = factor *
    scale ** power, degrees."""

    def __init__(self, heads, calibration=None):
        super().__init__()
        self.heads = nn.ModuleList(heads)
        c = calibration or {"factor": [LAPLACE] * 14, "power": [1.0] * 14}
        self.register_buffer("factor", torch.tensor(c["factor"]).view(1, 14))
        self.register_buffer("power", torch.tensor(c["power"]).view(1, 14))

    def forward(self, *tensors):
        h = dict(zip(INPUTS, tensors))
        said = [m(h) for m in self.heads]
        deep = [o for o in said if isinstance(o, tuple)]
        parts = [split(o[0] if isinstance(o, tuple) else o) for o in said]
        n = 1.0 / len(parts)
        mean = lambda name: sum(p[name] for p in parts) * n
        # scales are averaged as logarithms
        logsd = (sum(p["logscale"].clamp(-5, 2) for p in parts) * n + math.log(SCALE)) * self.power + self.factor.log()
        unit = lambda v: v / torch.sqrt((v * v).sum(1, keepdim=True) + 1e-9)
        out = mean("angles") * SCALE, torch.exp(logsd), unit(mean("normal")), unit(mean("axis")), torch.sigmoid(mean("visible")), mean("bend") * SCALE
        return (*out, sum(moved for _, moved in deep) / len(deep)) if deep else out


def load(weights, names):
    heads = []
    for path, name in zip(weights, names):
        w = torch.load(path, map_location="cpu")
        m = AngleHead(**w["specs"][name])
        own = {k[len(name) + 1:]: v.float() if v.dtype == torch.float16 else v for k, v in w["heads"].items() if k.startswith(name + ".")}
        m.load_state_dict({k: own.get(k, v) for k, v in m.state_dict().items()})
        heads.append(m.eval())
    return heads


def merge(base, head, taps, outputs):
    """Appends a head graph, whose inputs are named as taps, to the base."""
    g = base.graph
    names = {i.name for i in g.initializer} | {o for n in g.node for o in n.output} | {g.input[0].name}
    rename = dict(taps)

    def new(name):
        if name not in rename:
            rename[name] = name if name in outputs else "head/" + name
            if rename[name] in names:
                raise ValueError(f"the network has a tensor named {rename[name]} already")
        return rename[name]

    for i in head.graph.initializer:
        t = numpy_helper.from_array(numpy_helper.to_array(i), new(i.name))
        g.initializer.append(t)
    for n in head.graph.node:
        if n.op_type == "Identity" and n.output[0] not in outputs:  # the tracer's, for equal constants
            rename[n.output[0]] = new(n.input[0])
            continue
        m = onnx.NodeProto()
        m.CopyFrom(n)
        del m.input[:], m.output[:]
        m.input.extend(new(x) if x else "" for x in n.input)
        m.output.extend(new(x) for x in n.output)
        m.name = "head/" + n.name
        g.node.append(m)
    for name, width in outputs.items():
        g.output.append(helper.make_tensor_value_info(name, onnx.TensorProto.FLOAT, [1, width]))


def trace(model, net, names, outputs, opset):
    """A torch module over the network's tensors as an ONNX model."""
    with torch.no_grad():
        h = net(torch.rand(1, 3, 224, 224))
        buf = io.BytesIO()
        torch.onnx.export(model, tuple(h[k] for k in names), buf, input_names=["in/" + k for k in names], output_names=outputs,
                          opset_version=opset, do_constant_folding=True)
    return onnx.load_from_string(buf.getvalue())


class Rows(nn.Module):
    """The Reader with its results in the order of their names."""

    def __init__(self):
        super().__init__()
        self.reader = Reader()

    def forward(self, *tensors):
        out = self.reader(dict(zip(INPUTS, tensors)))
        # Results that are the network's own are written anew, since a graph
        # cannot put out one tensor twice.
        return tuple(out[k].reshape(1, -1) * 1.0 for k in Reader.WIDTHS)


def main():
    a = dict(x.split("=", 1) for x in sys.argv[1:])
    base = onnx.load(a["model"])
    opset = base.opset_import[0].version
    net = LandmarkNet(a["model"]).eval()
    taps = {"in/" + k: v for k, v in {**net.taps, **net.results}.items()}
    if "reader" in a:
        names = {"row/" + k: w for k, w in Reader.WIDTHS.items()}
        del base.graph.output[:]
        merge(base, trace(Rows().eval(), net, INPUTS, list(names), opset), taps, names)
        onnx.save(base, a["reader"])
        return
    calibration = None
    if "calibration" in a:
        with open(a["calibration"]) as f:
            calibration = json.load(f)
    with torch.no_grad():
        seen = net(torch.rand(1, 3, 224, 224))
        heads = [lean(m, seen) for m in load(a["weights"].split(","), a["heads"].split(","))]
    outputs = {k: w for k, w in OUTPUTS.items() if k != "fingers" or any(isinstance(m, LeanHead) for m in heads)}
    head = trace(Ensemble(heads, calibration).eval(), net, INPUTS, list(outputs), opset)
    merge(base, head, taps, outputs)
    base.producer_name = "volar angle-head"
    onnx.checker.check_model(base)
    onnx.save(base, a["out"])
    nodes = sum(n.op_type not in ("Constant", "Identity") for n in head.graph.node)
    print(f"{a['out']}: {os.path.getsize(a['out'])} bytes, {nodes} nodes after the network's own")


if __name__ == "__main__":
    main()

"""The frozen hand landmark network, run from its ONNX file inside PyTorch.

Only the operators that the network uses are known here. The weights never
get a gradient. Inputs are pictures of shape B x 3 x 224 x 224, RGB in 0..1;
the outputs are the network's own four results and the feature maps ("taps")
from which the angle head reads:

    f56    B x 24  x 56 x 56   last block at stride 4
    f28    B x 40  x 28 x 28   last block at stride 8
    f14    B x 112 x 14 x 14   last block at stride 16
    f7     B x 192 x 7  x 7    last block at stride 32
    pooled B x 1152            what the network's own results are read from
"""
import onnx
from onnx import numpy_helper
import torch
import torch.nn as nn
import torch.nn.functional as F

TAP_SHAPES = {"f56": (24, 56), "f28": (40, 28), "f14": (112, 14), "f7": (192, 7)}
# The order in which the network lists its outputs.
RESULTS = ("landmarks", "presence", "handedness", "world")


def find_taps(graph):
    """Names of the tensors to read, found by shape: the last linear bottleneck
    of each size, and the input of the fully connected layers."""
    inits = {i.name: list(i.dims) for i in graph.initializer}
    size, taps, channels = {graph.input[0].name: 224}, {}, {}
    for n in graph.node:
        at = {a.name: onnx.helper.get_attribute_value(a) for a in n.attribute}
        out = n.output[0]
        src = n.input[0]
        size[out] = size.get(src)
        channels[out] = channels.get(src)
        if n.op_type == "Conv":
            channels[out] = inits[n.input[1]][0]
            size[out] = size[src] // at.get("strides", [1, 1])[0]
        if n.op_type == "GlobalAveragePool":
            size[out] = None
        if n.op_type == "Flatten":
            taps["pooled"] = out
        if n.op_type in ("Conv", "Add"):
            for name, (c, s) in TAP_SHAPES.items():
                if channels[out] == c and size[out] == s:
                    taps[name] = out
    return taps


class LandmarkNet(nn.Module):
    """Runs the ONNX graph node by node."""

    def __init__(self, path):
        super().__init__()
        graph = onnx.load(path).graph
        self.taps = find_taps(graph)
        self.results = dict(zip(RESULTS, self._by_shape(graph)))
        self.keep = {**self.taps, **self.results}
        self.input = graph.input[0].name
        self.weights = nn.ParameterDict({
            i.name.replace(".", "_"): nn.Parameter(torch.from_numpy(numpy_helper.to_array(i).copy()), requires_grad=False)
            for i in graph.initializer})
        self.nodes = []
        for n in graph.node:
            at = {a.name: onnx.helper.get_attribute_value(a) for a in n.attribute}
            self.nodes.append((n.op_type, list(n.input), n.output[0], at))
        # After which node each tensor is no longer needed.
        last = {name: k for k, (_, i, _, _) in enumerate(self.nodes) for name in i}
        self.drop = [[n for n in i if last[n] == k and n not in self.keep.values()] for k, (_, i, _, _) in enumerate(self.nodes)]

    @staticmethod
    def _by_shape(graph):
        """The four outputs as landmarks, presence, handedness, world. Where a
        file names them so, the names decide; otherwise the order does."""
        names = [o.name for o in graph.output]
        if set(RESULTS) <= set(names):
            return list(RESULTS)
        return names[:4]

    def forward(self, x):
        v = {self.input: x}
        w = lambda name: self.weights[name.replace(".", "_")]
        for (op, i, o, at), drop in zip(self.nodes, self.drop):
            if op == "Conv":
                y, p = v[i[0]], at["pads"]
                pad = p[0]
                if p[0] != p[2] or p[1] != p[3]:
                    y, pad = F.pad(y, (p[1], p[3], p[0], p[2])), 0
                v[o] = F.conv2d(y, w(i[1]), w(i[2]), at["strides"][0], pad, 1, at["group"])
            elif op == "Clip":
                v[o] = F.relu6(v[i[0]])
            elif op == "Add":
                v[o] = v[i[0]] + v[i[1]]
            elif op == "GlobalAveragePool":
                v[o] = v[i[0]].float().mean((2, 3))
            elif op in ("Flatten", "Reshape", "Squeeze"):
                v[o] = v[i[0]].flatten(1)
            elif op == "Gemm":
                with torch.autocast("cuda", enabled=False):
                    v[o] = F.linear(v[i[0]].float(), w(i[1]).float(), w(i[2]).float())
            elif op == "Sigmoid":
                v[o] = torch.sigmoid(v[i[0]])
            elif op == "Identity":
                v[o] = v[i[0]]
            else:
                raise ValueError(f"operator {op} is not known: add it to landmark_net.py")
            for n in drop:
                v.pop(n, None)
        return {k: v[n] for k, n in self.keep.items()}

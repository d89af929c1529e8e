"""Names and places of what the generator writes beside each crop and of what
a head puts out. Angles are in the order of the program's fourteen joints:
MCP, PIP, DIP of index, middle, ring and little finger, then thumb MP and IP.
"""
import json

JOINTS = 14
MCP, PIP, DIP = [0, 3, 6, 9], [1, 4, 7, 10], [2, 5, 8, 11]
THUMB = [12, 13]
KINDS = {"mcp": MCP, "pip": PIP, "dip": DIP, "thumb": THUMB}
# Points of the 21-point hand: MCP, PIP, DIP, tip of each long finger.
FINGER_POINTS = [[5, 6, 7, 8], [9, 10, 11, 12], [13, 14, 15, 16], [17, 18, 19, 20]]
TRIPLES = {
    "mcp": [(0, 5, 6), (0, 9, 10), (0, 13, 14), (0, 17, 18)],
    "pip": [(5, 6, 7), (9, 10, 11), (13, 14, 15), (17, 18, 19)],
    "dip": [(6, 7, 8), (10, 11, 12), (14, 15, 16), (18, 19, 20)],
    "thumb": [(1, 2, 3), (2, 3, 4)],
}

# A head's output: name, width. Angles and spreads are in units of SCALE
# degrees inside the trainer.
SCALE = 30.0
HEAD = [
    ("angles", 14),      # signed flexion
    ("logscale", 14),    # log of the scale of a Laplace distribution
    ("bend", 4),         # angle at the MCP between wrist, MCP and PIP points
    ("bendscale", 4),
    ("normal", 3),
    ("axis", 3),
    ("visible", 21),     # logits
]
WIDTH = sum(n for _, n in HEAD)


def split(o):
    """Cuts a head's output into its parts."""
    parts, at = {}, 0
    for name, n in HEAD:
        parts[name] = o[:, at:at + n]
        at += n
    return parts


class Labels:
    """The columns of a label file, as its layout file names them."""

    def __init__(self, path):
        with open(path) as f:
            d = json.load(f)
        self.width = d["width"]
        self.at = {c["name"]: (c["at"], c["n"]) for c in d["columns"]}
        self.names = d.get("names", {})

    def get(self, y, name):
        at, n = self.at[name]
        return y[:, at:at + n]

    def set(self, y, name, value):
        at, n = self.at[name]
        y[:, at:at + n] = value

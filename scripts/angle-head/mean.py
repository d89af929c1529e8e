"""The mean of the weights of heads that came from one another: what they have
learned adds up, and hands unlike those rendered are read better than by the last
of them alone (after Wortsman et al. 2022, "Model soups", arXiv:2203.05482).

    python3 mean.py out=head.pt a.pt=1 b.pt=2

Each file is given with its weight in the mean.
"""
import sys

import torch


def mean(files):
    """files: (path, weight). The heads must be of the same make."""
    loaded = [(torch.load(path, map_location="cpu"), weight) for path, weight in files]
    total = sum(weight for _, weight in loaded)
    first = loaded[0][0]
    for other, _ in loaded[1:]:
        if other["specs"] != first["specs"]:
            raise ValueError(f"heads of different makes: {first['specs']} and {other['specs']}")

    def of(name, v):
        if not v.is_floating_point():
            return v
        return (sum(weight * other["heads"][name].float() for other, weight in loaded) / total).to(v.dtype)

    return {**first, "heads": {name: of(name, v) for name, v in first["heads"].items()}}


if __name__ == "__main__":
    args = dict(a.rsplit("=", 1) for a in sys.argv[1:])
    out = args.pop("out")
    torch.save(mean([(path, float(weight)) for path, weight in args.items()]), out)

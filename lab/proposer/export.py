"""Turn a checkpoint into the packaged network: folded, half-precision weights, recipe and seed in the metadata."""

from __future__ import annotations

import argparse
from pathlib import Path

import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from .net import Net, Packaged
from .recipe import recipe as recipe  # train.py asks here


def halve(model: onnx.ModelProto) -> None:
    """Store large weights as 16-bit floats, widened again by a Cast when the model is loaded."""
    graph = model.graph
    casts = []
    for weight in list(graph.initializer):
        values = numpy_helper.to_array(weight)
        if weight.data_type != TensorProto.FLOAT or values.size < 64:
            continue
        name = weight.name
        small = numpy_helper.from_array(values.astype("float16"), name + "_half")
        graph.initializer.remove(weight)
        graph.initializer.append(small)
        casts.append(helper.make_node("Cast", [small.name], [name], to=TensorProto.FLOAT))
    for node in reversed(casts):
        graph.node.insert(0, node)


def export(net: Net, path: Path, facts: dict[str, str]) -> None:
    """Write `net` to `path` with `facts` as metadata."""
    packaged = Packaged(net).eval()
    example = torch.zeros(1, 352, 640, 3, dtype=torch.uint8)
    torch.onnx.export(
        packaged, (example,), str(path), dynamo=False, opset_version=17, input_names=["picture"],
        output_names=["maps"],
        dynamic_axes={"picture": {1: "height", 2: "width"}, "maps": {2: "rows", 3: "columns"}},
    )  # fmt: skip
    model = onnx.load(str(path))
    halve(model)
    helper.set_model_props(model, facts)
    onnx.checker.check_model(model)
    onnx.save(model, str(path))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("checkpoint", type=Path)
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    held = torch.load(args.checkpoint, map_location="cpu", weights_only=True)
    net = Net()
    net.load_state_dict(held["net"])
    export(net, args.out, {k: str(v) for k, v in held["facts"].items()})
    print(args.out, args.out.stat().st_size, held["facts"])


if __name__ == "__main__":
    main()

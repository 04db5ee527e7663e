"""Turn a checkpoint into the packaged network: folded, half-precision weights, recipe and seed in the metadata.

`python -m proposer.export CHECKPOINT OUT --level -0.4`: `--level` is added to the scores' logits, so that the
first look's thresholds mean for one network what they meant for another;
`python -m proposer.export --opened NETWORK OUT` takes a packaged network's weights out, to begin a training with.
"""

from __future__ import annotations

import argparse
import hashlib
from pathlib import Path

import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from .net import Net, Packaged


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


def export(packaged: nn.Module, path: Path, facts: dict[str, str]) -> None:
    """Write `packaged` to `path` with `facts` as metadata."""
    example = torch.zeros(1, 352, 640, 3, dtype=torch.uint8)
    torch.onnx.export(
        packaged.eval(), (example,), str(path), dynamo=False, opset_version=17, input_names=["picture"],
        output_names=["maps"],
        dynamic_axes={"picture": {1: "height", 2: "width"}, "maps": {2: "rows", 3: "columns"}},
    )  # fmt: skip
    model = onnx.load(str(path))
    halve(model)
    helper.set_model_props(model, facts)
    onnx.checker.check_model(model)
    onnx.save(model, str(path))


def opened(path: Path) -> list[tuple[torch.Tensor, torch.Tensor]]:
    """Take the folded convolutions (weight, bias) out of a packaged network, in the order they run."""
    graph = onnx.load(str(path)).graph
    values = {w.name: numpy_helper.to_array(w) for w in graph.initializer}
    values |= {n.output[0]: values[n.input[0]] for n in graph.node if n.op_type == "Cast" and n.input[0] in values}
    rows = []
    for node in graph.node:
        if node.op_type == "Conv":
            rows.append(tuple(torch.tensor(values[name].astype("float32")) for name in node.input[1:]))
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("checkpoint", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--opened", action="store_true")
    parser.add_argument("--level", type=float, default=0.0)
    args = parser.parse_args()
    if args.opened:
        source = hashlib.sha256(args.checkpoint.read_bytes()).hexdigest()
        torch.save({"convolutions": opened(args.checkpoint), "packaged_sha256": source}, args.out)
        return
    held = torch.load(args.checkpoint, map_location="cpu", weights_only=True)
    net = Net()
    net.load_state_dict(held["net"])
    with torch.no_grad():
        net.head[-1].bias[0] += args.level
    facts = {k: str(v) for k, v in held["facts"].items()} | {"level": f"{args.level:g}"}
    export(Packaged(net), args.out, facts)
    print(args.out, args.out.stat().st_size, facts)


if __name__ == "__main__":
    main()

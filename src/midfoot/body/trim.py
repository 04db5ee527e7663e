"""Networks without the parts whose answers nobody asks for.

The landmark network also paints a mask of the person, a third of its work, and the mask is not used here. What
leads only to outputs that are not wanted is left out before the network is loaded; the answers that stay are the
same to the last bit.
"""

from __future__ import annotations

import numpy as np

MARK = b"TFL3"
"""What a network file carries in its bytes 4 to 8."""


def trimmed(model: bytes, wanted: tuple[int, ...]) -> bytes:
    """Give the network with the outputs `wanted` only, in that order.

    Parameters
    ----------
    model : bytes
        A .tflite file with one graph.
    wanted : tuple of int
        Positions of outputs, from 0.

    Returns
    -------
    bytes
        A .tflite file.

    Raises
    ------
    ValueError
        When it has several graphs or no such output.
    """
    import flatbuffers  # late, with what it serves: programs without pose do not owe it
    from ai_edge_litert import schema_py_generated as schema

    whole = schema.ModelT.InitFromObj(schema.Model.GetRootAs(model, 0))
    if len(whole.subgraphs) != 1:
        raise ValueError(f"model: expected one graph, got {len(whole.subgraphs)}")
    graph = whole.subgraphs[0]
    if not wanted or max(wanted) >= len(graph.outputs) or min(wanted) < 0:
        raise ValueError(f"wanted: expected positions below {len(graph.outputs)}, got {wanted}")
    outputs = [int(graph.outputs[i]) for i in wanted]
    needed, kept = set(outputs), []
    for step in reversed(graph.operators):  # they stand in the order in which they run
        if any(int(o) in needed for o in step.outputs):
            kept.append(step)
            needed.update(int(i) for i in step.inputs if i >= 0)
    graph.operators, graph.outputs = kept[::-1], np.array(outputs, np.int32)
    whole.signatureDefs = []  # they name outputs that are gone, and nothing here goes by name
    builder = flatbuffers.Builder(len(model) + 4096)
    builder.Finish(whole.Pack(builder), MARK)
    return bytes(builder.Output())

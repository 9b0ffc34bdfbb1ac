"""Loads and stores that let the compiler run a loop sixteen rays at a time.

A loop that picks heights by a computed index and stores a result in another array is left scalar,
because the compiler cannot know that the two arrays do not overlap. These three say so, by the
scoped no-alias metadata of the LLVM language reference: `pick` reads what the loop never writes;
`take` and `put` read and write the loop's own result. That makes the fan of rays three times as
fast. With the JIT off they are plain indexing.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba import config, types
from numba.extending import intrinsic


def _mark(instruction: Any, kind: str, module: Any) -> None:
    domain = module.add_metadata([ir.MetaDataString(module, "terrain")])
    scope = module.add_metadata([ir.MetaDataString(module, "terrain results"), domain])
    instruction.set_metadata(kind, module.add_metadata([scope]))


def _pointer(context: Any, builder: Any, array_type: Any, array: Any, index: Any) -> Any:
    data = context.make_array(array_type)(context, builder, array).data
    if index.type.width < 64:
        index = builder.sext(index, ir.IntType(64))
    return builder.gep(data, [index])


def _loader(kind: str, signature: Any) -> tuple[Any, Any]:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        loaded = builder.load(_pointer(context, builder, signature.args[0], *values))
        _mark(loaded, kind, builder.module)
        return loaded

    return signature, generate


def _pick(typing_context: Any, array: Any, index: Any) -> tuple[Any, Any]:
    return _loader("noalias", array.dtype(array, index))


def _take(typing_context: Any, array: Any, index: Any) -> tuple[Any, Any]:
    return _loader("alias.scope", array.dtype(array, index))


def _put(typing_context: Any, array: Any, index: Any, value: Any) -> tuple[Any, Any]:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        pointer = _pointer(context, builder, signature.args[0], values[0], values[1])
        _mark(builder.store(values[2], pointer), "alias.scope", builder.module)
        return context.get_dummy_value()

    return types.void(array, index, value), generate


pick: Callable[..., Any]
take: Callable[..., Any]
put: Callable[..., Any]
if getattr(config, "DISABLE_JIT", 0):
    pick, take, put = operator.getitem, operator.getitem, operator.setitem
else:
    pick, take, put = intrinsic(_pick), intrinsic(_take), intrinsic(_put)

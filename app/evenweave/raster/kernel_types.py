"""Array types for explicit kernel signatures. Read-only types accept writable arrays too."""

from __future__ import annotations

from numba import types

boolean = types.boolean
f64 = types.float64
f32 = types.float32
i32 = types.int32
i64 = types.int64
u8 = types.uint8
u32 = types.uint32

F1 = types.Array(f64, 1, "C", readonly=True)
F2 = types.Array(f64, 2, "C", readonly=True)
F3 = types.Array(f64, 3, "C", readonly=True)
L1 = types.Array(i64, 1, "C", readonly=True)
L2 = types.Array(i64, 2, "C", readonly=True)
I1 = types.Array(i32, 1, "C", readonly=True)
I2 = types.Array(i32, 2, "C", readonly=True)
B1 = types.Array(u8, 1, "C", readonly=True)
B2 = types.Array(u8, 2, "C", readonly=True)
U1 = types.Array(u32, 1, "C", readonly=True)
X3 = types.Array(types.float32, 3, "C", readonly=True)
I3 = types.Array(i32, 3, "C", readonly=True)
X1 = types.Array(types.float32, 1, "C", readonly=True)
X2 = types.Array(types.float32, 2, "C", readonly=True)

OUT_F1 = types.Array(f64, 1, "C")
OUT_F2 = types.Array(f64, 2, "C")
OUT_L2 = types.Array(i64, 2, "C")
OUT_I1 = types.Array(i32, 1, "C")
OUT_I2 = types.Array(i32, 2, "C")
OUT_B2 = types.Array(u8, 2, "C")
OUT_B3 = types.Array(u8, 3, "C")
OUT_U1 = types.Array(u32, 1, "C")
OUT_U2 = types.Array(u32, 2, "C")
OUT_X2 = types.Array(types.float32, 2, "C")
OUT_X3 = types.Array(types.float32, 3, "C")
OUT_I3 = types.Array(i32, 3, "C")

"""
A joint-replacement register that never was, and whose truth is known: for trying the program, and for testing it.
"""

from synthetic_registry.making import Made, make
from synthetic_registry.register import Register
from synthetic_registry.simulation import simulate, simulate_several

__all__ = ["Made", "Register", "make", "simulate", "simulate_several"]

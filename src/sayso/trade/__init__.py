"""Trade arithmetic: pure functions with units, each with its source and its valid range.

Belongs here: torque, fasteners, wire, packs, capacitors, bus, wheels, stacking, lifting, insulation.
Does not belong here: anything that speaks, listens, reads a procedure or keeps a record.
"""

from sayso.trade.catalogue import TRADE_FUNCTIONS, TradeFunction
from sayso.trade.limits import TradeError

__all__ = ["TRADE_FUNCTIONS", "TradeError", "TradeFunction"]

"""Every trade function against something outside the project, with the source named beside the value.

tests/trade/README.md is written from this list: python -m tests.trade.write_readme
"""

from tests.trade import published_machine, published_packs, published_torque, published_wire

CHECKS = [
    *published_torque.CHECKS,
    *published_wire.CHECKS,
    *published_packs.CHECKS,
    *published_machine.CHECKS,
]

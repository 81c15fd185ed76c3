"""What is bonded to the mat: rules for the connections of equipment, leads and joints at full current.

Entry functions: :func:`check_connections` holds an equipment list against the rules,
:func:`riser_groups` groups its leads for sizing, :func:`judge_connections` turns both into checks and
findings.
"""

from __future__ import annotations

from evenground.bonding._connections import check_connections
from evenground.bonding._judge import judge_connections, undrawn_rods
from evenground.bonding._risers import RiserGroup, duty_of, riser_groups
from evenground.bonding._rules import ConnectionRule, connection_rules

__all__ = [
    "ConnectionRule",
    "RiserGroup",
    "check_connections",
    "connection_rules",
    "duty_of",
    "judge_connections",
    "riser_groups",
    "undrawn_rods",
]

"""The mass balance: every kilogram accounted for, every share with its uncertainty. Pure computation."""

from passport.massflow.balances import (
    Month,
    OutsideBalance,
    ShopBalance,
    by_month,
    outside_balance,
    outside_balances_by,
    shop_balance,
    shop_balances_by,
)
from passport.massflow.closure import Closure, Verdict
from passport.massflow.ingredients import Ingredient
from passport.massflow.ledger import Ledger, Mixture, Share, settle
from passport.massflow.recycled import of_item, of_plastic, stated_percent
from passport.massflow.stock import State, Stock
from passport.massflow.trace import Edge, Lineage, Origin, Reached, lineage, reached_from, sources_of

__all__ = [
    "Closure",
    "Edge",
    "Ingredient",
    "Ledger",
    "Lineage",
    "Mixture",
    "Month",
    "Origin",
    "OutsideBalance",
    "Reached",
    "Share",
    "ShopBalance",
    "State",
    "Stock",
    "Verdict",
    "by_month",
    "lineage",
    "of_item",
    "of_plastic",
    "outside_balance",
    "outside_balances_by",
    "reached_from",
    "settle",
    "shop_balance",
    "shop_balances_by",
    "sources_of",
    "stated_percent",
]

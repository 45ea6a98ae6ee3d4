"""The mass balance: every kilogram accounted for, every share with its uncertainty. Pure computation."""

from passport.massflow.closure import Closure, Verdict
from passport.massflow.ingredients import Ingredient
from passport.massflow.ledger import Ledger, Mixture, Share, settle
from passport.massflow.recycled import of_item, of_plastic, stated_percent
from passport.massflow.stock import State, Stock

__all__ = [
    "Closure", "Ingredient", "Ledger", "Mixture", "Share", "State", "Stock", "Verdict", "of_item", "of_plastic",
    "settle", "stated_percent",
]

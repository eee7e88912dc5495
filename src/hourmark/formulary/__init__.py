"""What is known of drugs, products and devices: sourced numbers from TOML, loaded or refused."""

from hourmark.formulary.devices import Barrel, Gauge, barrel, barrels, gauges, tolerance
from hourmark.formulary.drugs import Drug, Kind, drug, drugs
from hourmark.formulary.products import Form, LabelRule, Product, other_strengths, product, products, rule_volumes
from hourmark.formulary.sourced import Sourced, Status, Unsourced, facts, sources

__all__ = [
    "Barrel",
    "Drug",
    "Form",
    "Gauge",
    "Kind",
    "LabelRule",
    "Product",
    "Sourced",
    "Status",
    "Unsourced",
    "barrel",
    "barrels",
    "drug",
    "drugs",
    "facts",
    "gauges",
    "other_strengths",
    "product",
    "products",
    "rule_volumes",
    "sources",
    "tolerance",
]

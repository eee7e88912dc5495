"""hourmark sources: where every figure comes from."""

import datetime as dt
from collections.abc import Iterable
from typing import Any

import click

from hourmark.cli.show import OK, answer_json, unread, unreadable
from hourmark.finding import Finding, Unreadable
from hourmark.formulary import Product, Sourced, products
from hourmark.formulary.audit import audit, every_fact
from hourmark.levels import every_fact as every_level_fact

_AUDIT = {
    "not_found": "Not read in the source itself (drafts only, until a carton check)",
    "past_check": "Past the day by which it was to be read again",
    "no_second": "Without a second source",
    "unused": "Read by nothing in the program",
}


def run(key: str | None, wants_audit: bool, list_products: bool, as_json: bool) -> int:
    """Answer, and the exit status."""
    if list_products:
        return _products(as_json)
    if wants_audit:
        return _audit(as_json)
    chosen = {
        name: fact
        for name, fact in _all().items()
        if key is None or name == key or name.startswith((f"{key}.", f"{key}-"))
    }
    if not chosen:
        return _unknown(str(key), as_json)
    if as_json:
        answer_json({"sources": [_fact_json(fact) for fact in chosen.values()], "findings": []})
    elif key is None:
        _list(chosen.values())
    else:
        for fact in chosen.values():
            _whole(fact)
    return OK


def _all() -> dict[str, Sourced[Any]]:
    return every_fact() | every_level_fact()


def _unknown(key: str, as_json: bool) -> int:
    import difflib

    near = difflib.get_close_matches(key, _all(), n=3, cutoff=0.4)
    problem: Finding = unreadable(
        Unreadable(
            f'No figure\'s key begins with "{key[:60]}".',
            f"Did you mean: {', '.join(near)}?" if near else "List them: hourmark sources",
        ),
        "KEY",
    )
    return unread("sources", [problem], as_json=as_json)


def _list(chosen: Iterable[Sourced[Any]]) -> None:
    for fact in chosen:
        click.echo(f"{fact.key} = {fact.text}   [{fact.cite()}]")


def _whole(fact: Sourced[Any]) -> None:
    click.echo(f"{fact.key} = {fact.text}")
    click.echo(f"  {fact.cite()}")
    for label, value in (("valid from", fact.since), ("second source", fact.second), ("reason", fact.why)):
        if value:
            click.echo(f"  {label}: {value}")
    click.echo(f"  checked {fact.checked}, to be read again by {fact.due()}")


def _fact_json(fact: Sourced[Any]) -> dict[str, Any]:
    return {
        "key": fact.key,
        "value": fact.text,
        "status": str(fact.status),
        "source": fact.source,
        "section": fact.section,
        "from": fact.since,
        "second": fact.second,
        "why": fact.why,
        "checked": fact.checked.isoformat(),
        "due": fact.due().isoformat(),
    }


def _audit(as_json: bool) -> int:
    result = audit(dt.datetime.now(dt.UTC).date(), every_level_fact(), ("levels.observed.", "levels.disagreements."))
    if as_json:
        answer_json({name: list(getattr(result, name)) for name in _AUDIT} | {"findings": []})
        return OK
    total = len(_all())
    for name, title in _AUDIT.items():
        keys = getattr(result, name)
        click.echo(f"{title}: {len(keys)} of {total}")
        for key in keys:
            click.echo(f"  {key}")
    return OK


def _products(as_json: bool) -> int:
    if as_json:
        answer_json({"products": [_product_json(one) for one in products().values()], "findings": []})
        return OK
    for one in products().values():
        click.echo(f"{one.id}: {one.name}; strength {one.strength}; {' or '.join(one.routes)}")
        if one.rules:
            click.echo("  mixed by the label: " + ", ".join(f'"{rule.words.value}"' for rule in one.rules))
    return OK


def _product_json(one: Product) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "drug": one.drug,
        "form": str(one.form),
        "strength": one.strength,
        "routes": list(one.routes),
        "label_rules": [rule.words.value for rule in one.rules],
    }

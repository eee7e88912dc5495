"""hourmark sources: every figure, one of them, the audit and the products."""

from tests.cli.running import answer, run

FACT_KEYS = ["key", "value", "status", "source", "section", "from", "second", "why", "checked", "due"]


def test_every_figure_with_its_source() -> None:
    status, found = answer("sources")
    assert status == 0
    assert list(found) == ["sources", "findings"]
    assert len(found["sources"]) > 100
    for fact in found["sources"]:
        assert list(fact) == FACT_KEYS
        assert fact["status"] in ("found", "weak", "memory", "derived", "practice")
        assert fact["source"] or fact["why"]
        assert fact["checked"] < fact["due"]


def test_those_that_begin_with_a_key() -> None:
    status, found = answer("sources", "limits.volume")
    assert status == 0
    assert found["sources"]
    assert all(fact["key"].startswith("limits.volume") for fact in found["sources"])
    assert (
        "valid from" in run("sources", "hcg-10000-units.content").stdout
        or "checked" in run("sources", "hcg-10000-units.content").stdout
    )


def test_a_key_that_is_not_there() -> None:
    for key in ("limits.volum", "x" * 10_000, "\N{SNOWMAN}", ""):
        status, found = answer("sources", key)
        assert status == 2
        assert found["sources"] is None
        assert [finding["where"] for finding in found["findings"]] == ["KEY"]


def test_the_audit() -> None:
    status, found = answer("sources", "--audit")
    assert status == 0
    assert list(found) == ["not_found", "past_check", "no_second", "unused", "findings"]
    assert found["not_found"]
    assert "Not read in the source itself" in run("sources", "--audit").stdout


def test_the_products() -> None:
    status, found = answer("sources", "--products")
    assert status == 0
    assert list(found) == ["products", "findings"]
    for product in found["products"]:
        assert list(product) == ["id", "name", "drug", "form", "strength", "routes", "label_rules"]
        assert "." not in product["id"]
    vial = next(product for product in found["products"] if product["id"] == "hcg-10000-units")
    assert vial["label_rules"] == ["10 mL only", "1 to 10 mL", "1 mL or 10 mL"]
    assert "hcg-10000-units" in run("sources", "--products").stdout

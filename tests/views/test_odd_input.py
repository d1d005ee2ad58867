"""Whatever is typed into a calculation, the page answers with a number or with a sentence."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.calculations import BY_SLUG, CALCULATIONS
from brewlog.forms.fields import NumberField, QuantityField, TemperatureField
from tests import factories as make
from tests.factories import at

pytestmark = pytest.mark.django_db

# What reaches a form from a wet thumb, another country's keyboard, or a paste.
ODD = (
    "",
    "0",
    "-1",
    "7.0.3",
    "7,5",
    "1,234",
    "1.234,5",
    "99999999",
    "nan",
    "70 °F",
    "300 C",
    "5 gal",
    "½",
    "٣",
    "x" * 500,
    "\x00",
    "4.01 1\n4.01 1",
)


@pytest.fixture
def typical(manager):
    """A value for every field that lets each calculation answer, over a small brewery."""
    recipe = make.recipe_version(manager, "Base")
    batch = make.batch(manager, code="B7", recipe=recipe, vessel=make.vessel(manager, "Jar"))
    for day, ph in ((4, "4.10"), (6, "3.60"), (8, "3.30")):
        make.reading(manager, batch, ph, at(day))
    make.bottles(
        manager,
        100,
        batch,
        "34 L",
        code="L7",
        planned_count=102,
        flavour=make.flavour(manager, "Plain"),
        format=make.bottle_format(manager, "Bottle", rating="rated", rated_bar=6),
    )
    return {
        "scale": {"recipe": "Base v1", "volume": "40 L"},
        "top-up": {
            "volume": "40 L",
            "sugar": "60",
            "concentrate_temperature": "90",
            "water_temperature": "10",
            "limit": "30",
        },
        "hottest-concentrate": {
            "volume": "40 L",
            "sugar": "60",
            "concentrate": "10 L",
            "water_temperature": "10",
            "limit": "30",
        },
        "cooling": {"first": "90", "second": "70", "hours": "1", "room": "20", "target": "30"},
        "brix": {"sugar": "3 kg", "volume": "40 L", "reading": "7"},
        "titration": {"titrant": "10", "strength": "0.1", "sample": "10"},
        "pitched-ph": {"share": "10", "starter_ph": "3"},
        "starter-needed": {"target": "4.5", "starter_ph": "3"},
        "forecast": {"batch": "B7", "what": "ph", "limit": "3.2"},
        "alcohol": {"gravity": "1.014", "brix": "4.5", "acidity": "5", "sugar": "60"},
        "alcohol-learned": {"for_lot": "B7", "gone": "20"},
        "alcohol-shelf-life": {"now": "0.4", "sugar": "30"},
        "alcohol-upper": {"original": "1.03", "final": "1.02"},
        "priming": {"target": "2.5", "warmest": "22", "kind": "table sugar (sucrose)"},
        "fruit-sugar": {"amount": "50", "by": "brix", "sugar": "12"},
        "bottle-pressure": {"format": "Bottle", "sugar": "8", "temperature": "25"},
        "gauge": {"volumes": "2.5", "temperature": "20"},
        "bottling-plan": {
            "drink": "30 L",
            "loss": "2",
            "flavours-rows": "1",
            "flavours-0-flavour": "Plain",
            "formats-rows": "1",
            "formats-0-format": "Bottle",
        },
        "plan-actual": {"lot": "B7"},
        "fill": {"weights": "580 581 579", "tare": "250", "gravity": "1.01", "label": "330"},
        "yield": {"batch": "B7"},
        "hydrometer": {"reading": "1.02", "temperature": "25"},
        "refractometer": {"reading": "10", "temperature": "25"},
        "sugar-scales": {"value": "10", "scale": "brix"},
        "ph-meter": {"points": "4.01 172\n7.00 -3", "temperature": "25"},
    }


def _fields(slug, typical):
    rows = [
        f"{lines.name}-0-{name}" for lines in BY_SLUG[slug].lines for name in lines.form.base_fields
    ]
    return [*BY_SLUG[slug].form.base_fields, *rows]


def _ask(client, slug, inputs):
    response = client.get(f"{reverse('calculation', args=[slug])}?{urlencode(inputs)}")
    assert response.status_code == 200
    answer, problems = response.context["answer"], response.context["problems"]
    assert (answer is None) == bool(problems)
    for problem in problems:
        assert problem.text.endswith((".", "?")) or "such as" in problem.text, problem
    return answer


@pytest.fixture
def client_of(client, brewery):
    def log_in(person, units="metric"):
        person.units = units
        person.save()
        client.force_login(person)
        return client

    return log_in


def test_there_is_a_usual_case_of_every_calculation(typical):
    assert set(typical) == {each.slug for each in CALCULATIONS}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_calculation_answers_its_usual_case(client_of, operator, typical, units):
    client = client_of(operator, units)
    if units == "us":
        typical["top-up"] |= {
            "concentrate_temperature": "190", "water_temperature": "50", "limit": "86"
        }  # fmt: skip
        typical["hottest-concentrate"] |= {"water_temperature": "50", "limit": "86"}
        typical["cooling"] |= {"first": "194", "second": "160", "room": "68", "target": "86"}
        typical["ph-meter"] |= {"temperature": "77"}
        for slug, name, value in (
            ("priming", "warmest", "72"),
            ("bottle-pressure", "temperature", "77"),
            ("gauge", "temperature", "68"),
            ("hydrometer", "temperature", "77"),
            ("refractometer", "temperature", "77"),
        ):
            typical[slug] |= {name: value}

    for slug, inputs in typical.items():
        assert _ask(client, slug, {"work": 1, **inputs}) is not None, slug


def test_nothing_typed_is_a_list_of_what_is_needed(client_of, operator):
    for each in CALCULATIONS:
        assert _ask(client_of(operator), each.slug, {"work": 1}) is None


def _ends(field):
    """The least and the most that a field takes for itself."""
    if isinstance(field, TemperatureField):
        return "-60 C", "160 C"
    if isinstance(field, QuantityField):
        unit = {"mass": "kg", "volume": "L", "count": ""}[field.dimensions[0]]
        return f"0 {unit}", f"1000000 {unit}"
    if isinstance(field, NumberField):
        low = "-1000000" if field.least is None else field.least
        high = "1000000" if field.most is None else field.most
        return f"{low}", f"{high}"
    return None


@pytest.mark.parametrize("slug", [each.slug for each in CALCULATIONS])
def test_the_ends_of_every_field_alone_and_all_together_do_no_harm(
    client_of, operator, typical, slug
):
    client = client_of(operator)
    ends = {
        name: found
        for name, field in BY_SLUG[slug].form.base_fields.items()
        if (found := _ends(field))
    }
    usual = {"work": 1, **typical[slug]}
    for place in (0, 1):
        _ask(client, slug, usual | {name: each[place] for name, each in ends.items()})
        for name, each in ends.items():
            _ask(client, slug, usual | {name: each[place]})


@pytest.mark.parametrize("slug", [each.slug for each in CALCULATIONS])
def test_odd_input_gets_a_sentence_or_a_number_and_never_an_error(
    client_of, operator, typical, slug
):
    client = client_of(operator)
    for name in _fields(slug, typical):
        for text in ODD:
            _ask(client, slug, {"work": 1, **typical[slug], name: text})

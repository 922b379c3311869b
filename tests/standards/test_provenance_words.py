"""In every answer a provenance is one of the five words; a doubt stands beside it."""

from service.reference import PROVENANCE_WORDS
from tests.asking import SHIPPED

PLACE = "pollution_degree=2&insulation=basic"
FURTHER = (
    ("clearance", f"system_voltage=1500V&overvoltage_category=III&supply=dc&{PLACE}"),
    ("clearance", "recurring_peak_voltage=70kV&pollution_degree=2&insulation=basic"),
    ("creepage", f"working_voltage=12kV&{PLACE}&material=pla&site_class=c"),
    ("conductor-spacing", "voltage=600V&place=external-uncoated"),
    ("hazard", "voltage=25kV&capacitance=1nF&available_current=5mA&everything=true"),
    ("approach", "nominal_voltage=13.8kV&person=qualified"),
    ("breakdown", "gap=5mm&electrodes=sphere-gap&sphere_diameter=2cm"),
)
"""Questions that read doubted rows, or many tables, beside the example of every lookup."""


def words(value):
    if isinstance(value, dict):
        for name, part in value.items():
            if name == "provenance" and isinstance(part, str):
                yield part
            else:
                yield from words(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from words(part)


def test_every_provenance_in_an_answer_is_one_of_five_words():
    examples = [(key, lookup.example) for key, lookup in SHIPPED.found.items() if not lookup.post]
    for key, query in (*examples, *FURTHER):
        document = SHIPPED.ask(key, query)
        assert set(words(document)) <= set(PROVENANCE_WORDS), (key, query)


def test_every_method_has_one_of_five_words(registry):
    assert {method.provenance for method in registry.methods.values()} <= set(PROVENANCE_WORDS)

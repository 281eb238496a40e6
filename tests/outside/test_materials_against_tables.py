"""Material numbers against the tables they cite, and densities against a standard's table.

Sources: EN 12524:2000, Building materials and products, tabulated design values, through the open library ``ht``
(``ht.insulation.rho_material``); Fashion and Textiles 7 (2020), doi:10.1186/s40691-020-00232-7, table 2 (usual nozzle
temperatures); Materials 16 (2023) 7664, doi:10.3390/ma16247664, table 1 (melt-flow laws). The public table of
material-extrusion polymers cited as ``am_table`` is checked as transcribed. Numbers marked from memory, practice or
assumed are not asserted as truths.
"""

import pytest
from ht.insulation import rho_material

from feedwright.catalogue.entry import Sourced
from feedwright.catalogue.load import load_catalogue

MATERIALS = load_catalogue().materials


@pytest.mark.parametrize(
    ("material", "name", "within"),
    [
        ("pa6", "Plastics, polyamide (nylon)", 0.02),
        ("pc", "Plastics, polycarbonates", 0.02),
        ("pp", "Plastics, polypropylene", 0.02),
        ("tpu_95a", "Plastics, polyurethane (PU)", 0.02),
        # high impact grades carry rubber, which makes them a little lighter than plain polystyrene
        ("hips", "Plastics, polystyrene", 0.03),
    ],
)
def test_density_is_that_of_en_12524(material: str, name: str, within: float) -> None:
    standard_g_cm3 = rho_material(name) / 1000
    density = MATERIALS[material].density_g_cm3
    assert density.value == pytest.approx(standard_g_cm3, rel=within)
    assert density.low <= standard_g_cm3 <= density.high


@pytest.mark.parametrize(
    ("material", "low_c", "high_c"),
    [("pla", 180, 210), ("abs", 230, 250), ("petg", 220, 245), ("pa12", 255, 275), ("tpu_95a", 210, 240)],
)
def test_usual_nozzle_temperature_lies_in_the_published_range(material: str, low_c: float, high_c: float) -> None:
    nozzle = MATERIALS[material].nozzle_c
    assert nozzle.source == "textile_2020"
    assert low_c <= nozzle.value <= high_c
    assert nozzle.low <= low_c
    assert nozzle.high >= high_c


@pytest.mark.parametrize(
    ("material", "name", "low", "high"),
    [
        ("abs", "k_pa_sn", 6678, 12_189),
        ("abs", "n_ratio", 0.42, 0.49),
        ("pla", "eta0_pa_s", 1480, 9460),
        ("pla", "lambda_s", 0.013, 0.083),
        ("pla", "n_ratio", 0.29, 0.37),
        ("pla_carbon", "k_pa_sn", 222, 222),
        ("pla_carbon", "n_ratio", 0.76, 0.76),
        ("pla_metal", "k_pa_sn", 215, 215),
        ("pla_metal", "n_ratio", 0.52, 0.52),
    ],
)
def test_melt_flow_constants_are_those_of_the_paper(material: str, name: str, low: float, high: float) -> None:
    constant = MATERIALS[material].rheology.constants[name]
    assert constant.source == "materials_2023"
    assert low <= constant.value <= high


@pytest.mark.parametrize(
    ("number", "low", "high"),
    [
        (MATERIALS["pla"].density_g_cm3, 1.22, 1.26),
        (MATERIALS["pla"].glass_c, 55, 65),
        (MATERIALS["pla"].modulus_mpa, 3000, 4000),
        (MATERIALS["pa12"].modulus_mpa, 1387, 1387),
    ],
)
def test_numbers_of_the_public_table_are_transcribed(number: Sourced, low: float, high: float) -> None:
    assert number.source == "am_table"
    assert low <= number.value <= high

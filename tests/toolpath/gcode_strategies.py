"""Made-up G-code for property tests: coordinates on a 1 mm grid, so that no turn hides in the rounding."""

from hypothesis import strategies as st

grid = st.integers(0, 120)
feed = st.sampled_from(["", " F600", " F3000", " F9000"])
filament = st.one_of(
    st.just(""),
    st.decimals("-6", "8", places=3).map(lambda e: f" E{e}"),
)


@st.composite
def move(draw: st.DrawFn) -> str:
    words = draw(st.sampled_from(["G0", "G1", "G1", "G1", ""]))
    for axis in draw(st.sets(st.sampled_from("XYZ"), max_size=3)):
        words += f" {axis}{draw(grid) if axis != 'Z' else draw(st.integers(0, 60)) / 5}"
    words += draw(filament) + draw(feed)
    return words.strip() or "G1"


@st.composite
def arc(draw: st.DrawFn) -> str:
    turn = draw(st.sampled_from(["G2", "G3"]))
    x, y, r = draw(grid), draw(grid), draw(st.integers(1, 20))
    kind = draw(st.integers(0, 2))
    end = {0: f"X{x} Y{y} I{r} J0", 1: f"X{x + 2 * r} Y{y} I{r} J0", 2: f"X{x + r} Y{y + r} I{r} J0"}[kind]
    rise = draw(st.sampled_from(["", " Z3"]))
    return f"G90\nG21\nG1 X{x} Y{y} F3000\n{turn} {end}{rise}{draw(filament)}"


MODES = """G90|G91|M82|M83|G92 E0|G92 E5|G20|G21|G28|G28 X|G10|G11|G4 P250|M204 S800|M204 P1200 T900|M220 S150
M220 S100|M221 S95|M117 G1 X5 E9|T0|; G1 X9|G1 (X3) Y4|M109 S0|N7 G1 X4 E1*90|g1x7y8e.5|G90 G1 X12|M84 X Y E|"""
mode = st.sampled_from(MODES.replace("\n", "|").split("|"))
programs = st.lists(st.one_of(move(), move(), move(), mode, arc()), min_size=1, max_size=60).map("\n".join)

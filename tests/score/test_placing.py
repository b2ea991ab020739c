"""Fingers stay with their own staff; signs in chord symbols can be read."""

from __future__ import annotations

from lxml import etree

from fillwright.score import clear_signs, pages_to_pdf, place_line

SVG = "http://www.w3.org/2000/svg"


def _staff(top: int) -> str:
    return '<g class="staff">' + "".join(
        f'<path d="M0 {y} L4000 {y}" stroke-width="13"/>'
        for y in range(top, top + 601, 150)) + "</g>"


def _finger(name: str, y: int) -> str:
    return (f'<g id="{name}" class="fing"><text x="1000" y="{y}">'
            f'<tspan font-size="253px">{name[-1]}</tspan></text></g>')


def _tops(apart: int, side: str, staff: int, more: str = "") -> list[float]:
    """Where two fingers of a stroke come to stand, upper one first, and `more` of them; two
    staves `apart`."""
    lower = 1600 + apart
    at = {("B", 1): 1700, ("A", 2): lower - 300}[side, staff]
    system = etree.fromstring(
        f'<svg xmlns="{SVG}"><g class="system"><g class="measure">{_staff(1000)}{_staff(lower)}'
        f'{_finger(f"fing{side}{staff}-3", at)}{_finger(f"fing{side}{staff}-4", at + 220)}{more}'
        '</g></g></svg>')[0]
    place_line(system, {}, 270, 4000)
    return [float(text.get("y", "0")) for text in system.iter(f"{{{SVG}}}text")]


def test_fingers_stand_between_the_staves_where_there_is_room() -> None:
    for side, staff in (("B", 1), ("A", 2)):
        upper, lower = _tops(900, side, staff)
        assert 1600 < upper < lower < 2500


def test_fingers_without_room_do_not_go_on_to_the_other_hands_staff() -> None:
    upper, lower = _tops(350, "B", 1)
    assert upper < lower < 1000
    upper, lower = _tops(350, "A", 2)
    assert 2550 < upper < lower


def test_fingers_of_one_stroke_that_come_above_the_staff_stand_in_the_order_of_its_notes() -> None:
    upper, lower, top = _tops(350, "B", 1, _finger("fingA1-5", 800))
    assert top < upper < lower < 1000


def test_signs_in_chord_symbols_are_upright_and_taller_than_a_capital() -> None:
    page = etree.fromstring(
        f'<svg xmlns="{SVG}"><g class="harm"><text font-style="italic"><tspan font-size="337px">'
        '[D</tspan><tspan font-family="Leipzig" font-size="600px">&#xEA64;</tspan></text></g>'
        '</svg>')
    clear_signs(page)
    letter, sign = page.findall(f".//{{{SVG}}}tspan")
    assert letter.get("font-size") == "337px"
    assert sign.get("font-style") == "normal"
    height = 0.398 * float(sign.get("font-size", "").removesuffix("px"))  # in ems, by the fonts
    assert height > 1.2 * 0.655 * 337


def test_a_sharp_in_a_chord_symbol_stands_around_the_middle_of_its_letters() -> None:
    def drops(sign: str) -> list[float]:
        page = etree.fromstring(
            f'<svg xmlns="{SVG}"><g class="harm"><text><tspan font-size="337px">C7(</tspan><tspan '
            f'font-family="Leipzig" font-size="600px">{sign}</tspan><tspan font-size="337px">9)'
            '</tspan></text></g></svg>')
        clear_signs(page)
        return [float(part.get("dy", "0")) for part in page.iter(f"{{{SVG}}}tspan")]

    before, sharp, after = drops("\uea66")
    middle = sharp - 0.43 * 600 * 1.27 / 2          # of the sign, above the line of the letters
    assert abs(middle + 0.655 * 337 / 2) < 2
    assert before == 0 and after == -sharp
    assert drops("\uea64") == [0, 0, 0]            # a flat stands on the line


def test_a_sign_of_a_chord_symbol_has_air_on_both_sides() -> None:
    page = etree.fromstring(
        f'<svg xmlns="{SVG}"><g class="harm"><text x="0" y="0"><tspan font-size="337px">E</tspan>'
        '<tspan font-family="Leipzig" font-size="600px">&#xEA64;</tspan><tspan font-size="337px">7'
        '</tspan></text></g></svg>')
    clear_signs(page)
    airs = [float(part.get("dx", "0")) for part in page.iter(f"{{{SVG}}}tspan")]
    assert airs[0] == 0 and 15 < airs[1] < 30 and 15 < airs[2] < 30


def test_a_sharp_is_as_low_in_print_as_on_the_screen() -> None:
    """What is set by typst, measured by pdfium."""
    import pypdfium2  # type: ignore[import-untyped]

    page = etree.fromstring(
        f'<svg xmlns="{SVG}" viewBox="0 0 2100 2970"><g class="harm"><text x="500" y="500">\n '
        '<tspan font-size="337px" font-family="Liberation Serif">C</tspan>\n '
        '<tspan font-family="Leipzig" font-size="600px">&#xEA66;</tspan>\n '
        '<tspan font-size="337px" font-family="Liberation Serif">9</tspan>\n</text></g></svg>')
    clear_signs(page)
    done = pypdfium2.PdfDocument(pages_to_pdf([etree.tostring(page, encoding="unicode")]))
    boxes = [thing.get_bounds() for thing in done[0].get_objects()]
    letter, sharp, number = sorted(boxes)
    assert abs(sharp[1] + sharp[3] - letter[1] - letter[3]) < 0.1 * (letter[3] - letter[1])
    assert abs(number[1] - letter[1]) < 0.1 * (letter[3] - letter[1])

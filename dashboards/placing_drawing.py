"""What a place measured beside what the eggs want, drawn small. Pure."""

from daemon.alarms.limits import Limits
from daemon.placement.outside import Stay
from dashboards import drawing, figures
from dashboards.drawing import Box, Drawing, Stroke, Words

_HEIGHT, _LEFT, _RIGHT = 96, 8, 472
_TOP, _BAR, _WANTED = 22, 18, 34
_ROOM_K = 1.0


def place_drawing(stay: Stay, limits: Limits, name: str, *, fahrenheit: bool) -> Drawing:
    """Draw the range of the eggs, and above it what was measured: extremes, nine tenths of the time, mean."""
    lethal = [each for each in (limits.lethal_low_c, limits.lethal_high_c) if each is not None]
    wanted = [each for each in (limits.low_c, limits.high_c) if each is not None]
    values = [*wanted, *lethal, stay.least_c, stay.most_c]
    across = drawing.Scale(min(values) - _ROOM_K, max(values) + _ROOM_K, _LEFT, _RIGHT)
    boxes, strokes, words = [], [], []
    foot = _HEIGHT - 26
    if limits.low_c is not None and limits.high_c is not None:
        left, right = across.at(limits.low_c), across.at(limits.high_c)
        boxes.append(Box("place-wanted", left, _TOP - 8, round(right - left, 1), foot - _TOP + 8))
        for value_c, x in ((limits.low_c, left), (limits.high_c, right)):
            words.append(Words(x, _HEIGHT - 6, "middle", str(figures.temperature(value_c, fahrenheit))))
    for value_c in lethal:
        strokes.append(Stroke("place-lethal", f"M{across.at(value_c):g} {_TOP - 8}V{foot}"))
        words.append(Words(_inside(across.at(value_c)), 12, "middle", "lethal"))
    middle = (_TOP + foot) / 2
    p5, p95 = across.at(stay.p5_c), across.at(stay.p95_c)
    strokes.append(Stroke("place-extremes", f"M{across.at(stay.least_c):g} {middle:g}H{across.at(stay.most_c):g}"))
    boxes.append(Box("place-measured", p5, middle - _BAR / 2, round(max(p95 - p5, 2.0), 1), _BAR))
    strokes.append(Stroke("place-mean", f"M{across.at(stay.mean_c):g} {middle - _WANTED / 2:g}v{_WANTED}"))
    return Drawing(_HEIGHT, _label(stay, limits, name, fahrenheit), tuple(boxes), tuple(strokes), tuple(words))


def _inside(x: float) -> float:
    return min(max(x, _LEFT + 26), _RIGHT - 26)


def _label(stay: Stay, limits: Limits, name: str, fahrenheit: bool) -> str:
    def told(value_c: float) -> str:
        return str(figures.temperature(value_c, fahrenheit))

    wanted = ""
    if limits.low_c is not None and limits.high_c is not None:
        wanted = f" The eggs want {told(limits.low_c)} to {told(limits.high_c)}."
    return f"{name}: nine tenths of the time {told(stay.p5_c)} to {told(stay.p95_c)}, mean {told(stay.mean_c)}.{wanted}"

"""Hands in outline, each reaching in from the right of its pen; all sizes in mm."""

from hourmark.handout.drawing.canvas import GROUND, SHADE, THIN, Pen, Point, Tube

_FINGER = 3.9


def cuff(pen: Pen, at: Point, turn: float) -> None:
    """The end of a sleeve at a wrist; the arm goes on in the direction `turn`, in degrees clockwise from the right."""
    pen.move(*at).turn(turn).rect(-0.6, -5.1, 5.2, 10.2, round_=1, fill=SHADE)


def pinch(pen: Pen, gap: float = 2, *, sleeve: bool = True) -> None:
    """Thumb and forefinger holding something `gap` thick; its middle is the origin."""
    g = gap / 2
    folded: list[Tube] = [
        (((4.2, -g + 0.4), (8.6, -1.6), (13, -2.4)), 3.6),
        (((7.2, 1.6), (10, 0.6), (14, 0)), 3.4),
    ]
    for tube in folded:
        pen.tubes([tube])
    pen.tubes(
        [
            (((1.1, -g - 1.9), (6, -g - 4.4), (11, -g - 4.2), (15.5, -1.4)), _FINGER),
            (((1.1, g + 1.9), (6.5, g + 3.8), (11.5, g + 3.4), (15.5, 2.4)), _FINGER + 0.3),
            (((15.5, 0.2), (19, 1)), 9.4),
            (((18, 1), (24, 2.6)), 8),
        ]
    )
    pen.curve(((0.2, g + 1.1), (0.5, g + 2.6), (2, g + 2.4)), width=THIN)
    if sleeve:
        cuff(pen, (24, 2.6), 15)


def hold_behind(pen: Pen) -> None:
    """The hand that holds something thin at the origin from below, but for its thumb: drawn before the thing."""
    pen.tubes([(((8.2, 3.4), (9.4, 9)), 3.6)])
    pen.tubes([(((4.6, 0.6), (6.6, 5), (6.6, 11)), 3.7)])
    pen.tubes(
        [
            (((0.4, -2.2), (3, 3.4), (4.2, 10)), _FINGER),
            (((4.6, 11.6), (5, 15)), 10.4),
            (((5, 15), (6.4, 19)), 8),
        ]
    )
    pen.path("M 5 8 L 9.6 8 L 9.6 12 L 5 12 Z", line="none")
    cuff(pen, (6.4, 19), 74)


def hold_front(pen: Pen) -> None:
    """The thumb of that hand: drawn after the thing."""
    pen.tubes([(((-0.2, 2.2), (-2.2, 6.4), (1.4, 11.6)), _FINGER + 0.3)])
    pen.circle(2.6, 12.6, 2.7, line="none")


def press_behind(pen: Pen, travel: float, half: float, *, fingers: int = 2) -> None:
    """The hand that pushes a plunger, but for its thumb: drawn before the syringe.

    The origin is the top of the thumb rest, the needle points down; `travel` from there to the flange, `half` the barrel's half.
    """
    t = travel
    for y in (t + 7, t + 3.4)[2 - fingers :]:
        pen.tubes([(((-half - 1.4, y), (half + 8, y - 0.4)), 3.6)])
    pen.tubes(
        [
            (((half + 8.6, min(t * 0.5, 5)), (half + 8.6, t + 5)), 9.4),
            (((half + 10, t * 0.6 + 3), (half + 17, t * 0.6 + 6)), 8),
        ]
    )
    cuff(pen, (half + 17, t * 0.6 + 6), 22)


def press_front(pen: Pen, travel: float, half: float) -> None:
    """The thumb of that hand, on the thumb rest: drawn after the syringe."""
    y = min(travel * 0.5, 5)
    pen.tubes([(((-0.6, -2.2), (3.6, -3), (half + 6.4, y)), _FINGER + 0.4)])
    pen.circle(half + 7.4, y + 0.5, 3.1, line="none")


def grip_behind(pen: Pen, half: float, *, sleeve: bool = True) -> None:
    """The fingers and the palm behind something upright whose middle is the origin and which is `half` wide to each side."""
    for i in range(4):
        y = -5.6 + 3.5 * i
        pen.tubes([(((-half - 1 - (0.6 if i in (1, 2) else 0), y), (half + 3, y)), 3.6)])
    pen.tubes([(((half + 4.5, -3), (half + 5, 3)), 9.5), (((half + 6, 1.5), (half + 12, 4)), 8.2)])
    if sleeve:
        cuff(pen, (half + 12, 4), 20)


def grip_front(pen: Pen, half: float) -> None:
    """The thumb before the thing that `grip_behind` holds."""
    pen.tubes([(((-half + 2.4, -4.6), (half, -5), (half + 4, -2.4)), _FINGER + 0.4)])
    pen.circle(half + 4.8, -1.8, 2.9, line="none")


def point(pen: Pen, *, sleeve: bool = True) -> None:
    """A forefinger whose tip is at the origin."""
    pen.tubes(
        [
            (((2, 0), (8, -0.4), (14, 1.6)), _FINGER),
            (((14.5, 4), (18, 4.6)), 10.4),
            (((18, 5), (23, 6.4)), 8),
        ]
    )
    for i in range(3):
        pen.tubes([(((10.4 + 0.5 * i, 3.4 + 2.9 * i), (13.4, 3.6 + 2.9 * i)), 3.1)])
    pen.path("M 13 3 L 15.5 3 L 15.5 10.2 L 13 10.4 Z", line="none", fill=GROUND)
    if sleeve:
        cuff(pen, (23, 6.4), 15)


def palm(pen: Pen) -> None:
    """An open hand held up against the viewer; the middle of the palm at the origin."""
    pen.tubes(
        [
            (((-4.6, 0), (-5.6, -10.5)), _FINGER),
            (((-1.6, 0), (-2, -13)), _FINGER),
            (((1.6, 0), (1.8, -12.4)), _FINGER),
            (((4.6, 0), (5.6, -9.6)), _FINGER - 0.3),
            (((-3, 5), (-8, 1), (-10.4, -3)), _FINGER),
            (((-1.7, 1), (-1.4, 4)), 9.4),
            (((1.7, 1), (1.4, 4)), 9.4),
            (((0, 5), (0, 10)), 9),
        ]
    )
    cuff(pen, (0, 11), 90)


def mitten(pen: Pen) -> None:
    """A flat hand seen from its back, finger tips at the origin."""
    for i in range(4):
        y = -4.8 + 3.1 * i
        pen.tubes([(((2 + abs(i - 1.4) * 0.9, y), (13, y * 0.9)), 3.4)])
    pen.tubes([(((11, 5), (8, 7.4), (5, 7.6)), 3.6)])
    pen.tubes([(((13.4, -1.4), (16, -0.6)), 11), (((16, 0), (22, 1)), 8.4)])
    pen.path("M 11 -5.6 L 15 -5.6 L 15 5 L 11 5 Z", line="none")
    cuff(pen, (22, 1), 8)

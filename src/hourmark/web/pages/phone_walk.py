"""The walk-through on her phone: which medicine, the boxes, then one step a screen, each with what to do when stuck."""

from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from hourmark.case import events as e
from hourmark.case.injections import current, is_given
from hourmark.case.phone import AskHelp, ReadBoxes
from hourmark.case.state import CaseState, Kept
from hourmark.case.streams import case_stream
from hourmark.clock import elapsed, shifted
from hourmark.desk import Done
from hourmark.handout.walk import WalkInjection, WalkLeg, WalkStep, WalkThrough
from hourmark.web.pages.phone import BY, THE_BOXES, Look, Visit, gone, keep_look, look_of, phone_page
from hourmark.web.pages.phone_said import much_of, said_of, told_of
from hourmark.web.pages.phone_time import Countdown, countdown, seconds_between
from hourmark.web.pages.phone_token import key_for

_YES, _NO = "yes", "no"
PRACTICE_CLOSES = 30
"""Minutes before a minute from which there is no practice any more."""


@dataclass(frozen=True, slots=True)
class GoOn:
    """Where she goes on from her list: the part, the step's number and its address; without a number, from the first step that is open."""

    part: str
    place: int
    count: int
    number: int
    path: str


@dataclass(frozen=True, slots=True)
class Late:
    """A minute that may pass while a page stays open. `at` is the minute, `clock` as she reads it.

    After `alarm`, the last moment that the order allows, she is told that she is late: `tells` whether that is so now.
    From `at` up to then she is asked: `asks`. An order without a window has no such moment; from `mild`, the whole
    minute after her own, she is asked whether it is given: `reminds`.

    `hangs`: the order counts it from the actual time of another, and nobody knows that one to have been given so that
    this minute keeps the order's window. Of such a minute it is never said that it has come, or that it is past:
    `alarm` and `mild` are empty. From `moves` on, when the first is due, what was planned back from this minute may have
    moved with it: `moved` whether that is so now, as it also is once anything is told of the first.
    """

    at: str
    clock: str
    nasal: bool
    hangs: bool
    alarm: str
    mild: str
    asks: bool
    tells: bool
    reminds: bool
    moves: str
    moved: bool

    @property
    def ends(self) -> str:
        """Until when it is right to say that the wait is over; empty where nothing is said of it."""
        return self.alarm or self.mild

    @property
    def past(self) -> bool:
        """Whether the page says by itself that she may be late."""
        return self.tells or self.reminds


@dataclass(frozen=True, slots=True)
class Medicine:
    """One medicine as it is listed: its words, its own clock, and what was told of it."""

    place: int
    due: e.Due
    injection: WalkInjection | None
    time: Countdown
    reports: tuple[tuple[bool, str, str], ...]
    given: bool
    go_on: GoOn | None
    late: Late
    lay_out: str
    mix: str
    practises: bool
    practice_ends: str

    @property
    def sent(self) -> bool:
        """Whether she has told of it herself."""
        return any(mine for mine, *_ in self.reports)


@dataclass(frozen=True, slots=True)
class Here:
    """One step, where it stands among its leg's, and where it leads to and from."""

    number: int
    leg: WalkLeg
    injection: WalkInjection
    step: WalkStep
    count: int
    back: str
    onward: str


@phone_page("GET", "HEAD")
def home(visit: Visit) -> HttpResponse:
    """Every medicine of her page with its own clock."""
    look = look_of(visit.request)
    medicines = [_medicine(visit, place, due, look) for place, due in enumerate(visit.dues, 1)]
    return visit.page("home", walk=visit.walk, medicines=medicines, at_home=True)


def _medicine(visit: Visit, place: int, due: e.Due, look: Look) -> Medicine:
    walk = visit.walk
    injection = walk.injection(due.injection) if walk is not None else None
    reports = [one for one in visit.state.confirmations if one.event.injection == due.injection]
    said = tuple((one.actor == BY, said_of(visit, one.event, due), much_of(visit, one.event)) for one in reports)
    given = due.injection in told_of(visit)
    before = (injection.lay_out_at, injection.mix_at) if injection is not None else (None, None)
    lay_out, mix = (visit.words.clock_time(visit.here(at, due.zone)) if at else "" for at in before)
    time = time_of(visit, due.at, due.zone)
    shows = injection is not None and injection.show is not None
    return Medicine(
        place=place,
        due=due,
        injection=injection,
        time=time,
        reports=said,
        given=given,
        go_on=_go_on(visit, walk, injection, look) if walk is not None and injection is not None else None,
        late=late_of(visit, due),
        lay_out=lay_out,
        mix=mix,
        practises=shows and not practice_closed(visit, due),
        practice_ends=shifted(due.at, -PRACTICE_CLOSES),
    )


def _go_on(visit: Visit, walk: WalkThrough, injection: WalkInjection, look: Look) -> GoOn | None:
    """Where she goes on once all the boxes of a minute are read: at the step at which she stood, or, where that is behind her, after it.

    All medicines of a minute are got ready before the first is given, so it is the same step for each of them. None before the boxes.
    """
    if unread(visit, walk, injection.id):
        return None
    stood = _here(walk, look.leg, look.step)
    if stood is None or stood.injection.at != injection.at:
        return GoOn("", 0, 0, 0, _after_boxes(visit, walk, injection))
    if stood.injection.id in told_of(visit):
        path = _after_boxes(visit, walk, injection)
        leg, number = (int(part) for part in path.split("/")[3:5]) if path.startswith("/t/steps/") else (0, 0)
        stood = _here(walk, leg, number)
    if stood is None:
        return None
    place = next(place for place, one in enumerate(walk.injections, 1) if one.id == stood.injection.id)
    number = stood.step.number
    return GoOn(stood.leg.part, place, len(walk.injections), number, _address(stood.number, stood.step))


def practice_closed(visit: Visit, due: e.Due) -> bool:
    """Whether it is time for the real thing: soon, begun, or done."""
    read = last_read(visit, due.injection)
    begun = read is not None and not read.event.differs
    return begun or due.injection in told_of(visit) or seconds_between(visit.now, due.at) <= PRACTICE_CLOSES * 60


def late_of(visit: Visit, due: e.Due) -> Late:
    """How it stands with a minute that has passed, if nothing is given yet."""
    hangs, over, clock = _hangs(visit, due), due.at <= visit.now, visit.words.clock_time(visit.here(due.at, due.zone))
    alarm = "" if hangs else last_moment(visit.state, due) or ""
    mild = "" if hangs or alarm else shifted(due.at, 1)
    tells, reminds = bool(alarm) and visit.now > alarm, bool(mild) and visit.now >= mild
    moves, asks = _moves(visit, due) if hangs else "", over and not mild and not tells
    moved = bool(moves) and moves <= visit.now
    return Late(due.at, clock, due.route == "nasal", hangs, alarm, mild, asks, tells, reminds, moves, moved)


def _hangs(visit: Visit, due: e.Due) -> bool:
    """Whether a minute is counted from another injection, and it is not known that it keeps the order's window to that one.

    A record from before that was kept does not say from which: there the words of her page decide, and it always hangs.
    """
    if due.follows is None:
        return any(one.provisional for one in (visit.walk.injections if visit.walk else ()) if one.id == due.injection)
    first = current(visit.state, due.follows.injection)
    if first is None or first.given_at is None or not is_given(visit.state, first):
        return True
    least, most = due.follows.least, due.follows.most
    after = elapsed(first.given_at, due.at).minutes
    return not (due.follows.gap if least is None else least) <= after <= (due.follows.gap if most is None else most)


def _moves(visit: Visit, due: e.Due) -> str:
    """From when a minute that hangs may have moved: now, if anything was told of its first, otherwise when that is due.

    A record that does not say which is its first may mean any that comes before it.
    """
    name = due.follows.injection if due.follows is not None else None
    firsts = [one for one in visit.dues if (one.injection == name if name is not None else one.at < due.at)]
    told = {one.event.injection for one in visit.state.confirmations}
    return min((visit.now if one.injection in told else one.at for one in firsts), default=visit.now)


def _due(visit: Visit, injection: str) -> e.Due:
    return next(due for due in visit.dues if due.injection == injection)


def last_moment(state: CaseState, due: e.Due) -> str | None:
    """The last moment that the order allows, by its window or by that to the injection it follows, as given; None without one."""
    if due.latest is not None:
        return due.latest
    follows = due.follows
    first = current(state, follows.injection) if follows is not None else None
    if follows is None or follows.most is None or first is None or first.given_at is None:
        return None
    return shifted(first.given_at, follows.most)


def time_of(visit: Visit, at: str, zone: str) -> Countdown:
    """A minute of hers, counted down from now."""
    return countdown(at, f"{visit.here(at, zone).wall:%H:%M}", visit.now, visit.words)


# The boxes


@phone_page("GET", "HEAD", "POST")
def boxes(visit: Visit, place: int) -> HttpResponse:
    """The things read off the boxes before anything is opened. One "no", or one left open, ends at the number."""
    walk, injection = _of(visit, place)
    if visit.request.method == "POST":
        return _read(visit, walk, injection, place)
    last = last_read(visit, injection.id)
    if _waits(visit, injection.id):
        return visit.page("boxes-end", walk=walk, injection=injection, place=place, stop=())
    if visit.stop:
        return _stopped(visit, walk, injection)
    if last is not None and not last.event.differs and not visit.request.GET.get("again"):
        return redirect(_after_boxes(visit, walk, injection))
    helped = last is not None and bool(last.event.differs)
    return visit.page(
        "boxes",
        walk=walk,
        injection=injection,
        place=place,
        seen=_seen(visit),
        helped=helped,
        time=time_of(visit, injection.at, injection.zone),
        nasal=_is_nasal(visit, injection.id),
        given=injection.id in told_of(visit),
        late=late_of(visit, _due(visit, injection.id)),
        writes=True,
    )


def _read(visit: Visit, walk: WalkThrough, injection: WalkInjection, place: int) -> HttpResponse:
    typed = visit.request.POST
    answers = {one.code: typed.get(f"box-{one.code}", "") for one in injection.boxes}
    differs = tuple(
        f"{code.replace('-', ' ')}{'' if answer == _NO else ' (not answered)'}"
        for code, answer in answers.items()
        if answer != _YES
    )
    if not differs and visit.stop:  # answered by a call, not by another answer
        return redirect(_boxes_of(walk, injection.id))
    key = key_for(visit.link, "boxes", injection.id, typed.get("seen", ""), sorted(answers.items()))
    visit.perform(ReadBoxes(visit.state.id, injection.id, visit.given.sheet or 0, differs), key)
    return redirect(_after_boxes(visit, walk, injection) if not differs else _boxes_of(walk, injection.id))


def _stopped(visit: Visit, walk: WalkThrough, injection: WalkInjection) -> HttpResponse:
    """In the place of every step and of the boxes, until the clinic has answered: that she is to stop, and the number."""
    time = time_of(visit, injection.at, injection.zone)
    late, nasal = late_of(visit, _due(visit, injection.id)), _is_nasal(visit, injection.id)
    return visit.page("stopped", walk=walk, injection=injection, time=time, late=late, nasal=nasal)


def _seen(visit: Visit) -> int:
    """How long the record of her case was when a form was opened: the same form sent again is known by it."""
    return visit.desk.store.head(case_stream(visit.state.id)).seq


def _waits(visit: Visit, injection: str) -> bool:
    """Whether nobody has answered yet what she said of her boxes."""
    return any(one.event.injection == injection and one.event.where == THE_BOXES for one in visit.state.waiting)


def last_read(visit: Visit, injection: str) -> Kept[e.BoxesRead] | None:
    """What she last found on the boxes of a medicine, by this page; None where she has not looked."""
    mine = [
        one for one in visit.state.boxes if (one.event.injection, one.event.sheet) == (injection, visit.given.sheet)
    ]
    return mine[-1] if mine else None


def unread(visit: Visit, walk: WalkThrough, injection: str) -> tuple[WalkInjection, ...]:
    """The medicines of the same minute whose boxes are not, all of them, as on her page."""
    at = walk.injection(injection).at
    together = (one for one in walk.injections if one.at == at)
    found = ((one, last_read(visit, one.id)) for one in together)
    return tuple(one for one, read in found if one.boxes and (read is None or read.event.differs))


def _after_boxes(visit: Visit, walk: WalkThrough, injection: WalkInjection) -> str:
    """The next boxes of the same minute, and after the last of them the first step that is still to be done."""
    if left := unread(visit, walk, injection.id):
        return _boxes_of(walk, left[0].id)
    together = {one.id for one in walk.injections if one.at == injection.at}
    told = told_of(visit)
    to_give = together - told
    begun = bool(together & told)  # all of a minute are got ready before the first of them is given
    open_legs = (
        number
        for number, leg in enumerate(walk.legs, 1)
        if leg.injection in to_give and (leg.part == "give" or not begun)
    )
    return next((_first_step(walk, number) for number in open_legs), "/t/")


def _boxes_of(walk: WalkThrough, injection: str) -> str:
    place = next(place for place, one in enumerate(walk.injections, 1) if one.id == injection)
    return f"/t/{place}/boxes/"


def _of(visit: Visit, place: int) -> tuple[WalkThrough, WalkInjection]:
    walk = visit.walk
    if walk is None or not 0 < place <= len(walk.injections):
        raise Http404
    return walk, walk.injections[place - 1]


# Steps


@phone_page("GET", "HEAD")
def step(visit: Visit, leg: int, number: int) -> HttpResponse:
    """One step: what to do, its picture, what is then seen, and what to do when stuck."""
    walk = visit.walk
    here = _here(walk, leg, number) if walk is not None else None
    if walk is None or here is None:
        return gone(visit.request)
    if left := unread(visit, walk, here.injection.id):
        return redirect(_boxes_of(walk, left[0].id))
    if visit.stop:
        return _stopped(visit, walk, here.injection)
    look = look_of(visit.request)
    given = here.injection.id in told_of(visit)
    late = late_of(visit, _due(visit, here.injection.id))
    at = visit.here(here.injection.at, here.injection.zone)
    response = visit.page(
        "step",
        walk=walk,
        here=here,
        time=time_of(visit, here.injection.at, here.injection.zone),
        picture=walk.picture(here.step.picture),
        moves=visit.request.GET.get("move") == "1",
        begins=here.step == _shown(walk, here.leg)[0],
        late=late,
        not_yet=here.leg.part == "give" and not given and (late.hangs or visit.now < late.at),
        date=visit.words.date(at.wall.date()),
        nasal=_is_nasal(visit, here.injection.id),
        given=given,
        after_boxes=_follows_boxes(walk, here),
        too_early="" if given else _too_early(visit, here),
    )
    keep_look(response, Look(look.large, look.scheme, leg, number))
    return response


def _is_nasal(visit: Visit, injection: str) -> bool:
    return any(due.injection == injection and due.route == "nasal" for due in visit.dues)


def _follows_boxes(walk: WalkThrough, here: Here) -> bool:
    """Whether the steps before this one were all asked with the boxes."""
    before = [one for one in walk.steps(here.leg) if one.number < here.step.number]
    return bool(before) and all(one.box for one in before)


def _too_early(visit: Visit, here: Here) -> str:
    """The clock time before which nothing of it is mixed; nothing where it is that time, or no rule gives one."""
    mix_at = here.injection.mix_at
    if here.leg.part != "ready" or mix_at is None or seconds_between(visit.now, mix_at) <= 0:
        return ""
    return visit.words.clock_time(visit.here(mix_at, here.injection.zone))


def _shown(walk: WalkThrough, leg: WalkLeg) -> tuple[WalkStep, ...]:
    """The steps of a leg that were not asked with the boxes already."""
    steps = walk.steps(leg)
    return tuple(one for one in steps if not one.box) or steps


def _here(walk: WalkThrough, leg: int, number: int) -> Here | None:
    if not 0 < leg <= len(walk.legs):
        return None
    mine = walk.legs[leg - 1]
    steps = walk.steps(mine)
    found = next((one for one in steps if one.number == number), None)
    if found is None:
        return None
    shown = _shown(walk, mine)
    before = [one for one in shown if one.number < number]
    after = [one for one in shown if one.number > number]
    back = _address(leg, before[-1]) if before else _back_from(walk, leg)
    onward = _address(leg, after[0]) if after else _onward_from(walk, leg)
    return Here(leg, mine, walk.injection(mine.injection), found, len(steps), back, onward)


def _back_from(walk: WalkThrough, leg: int) -> str:
    return _address(leg - 1, _shown(walk, walk.legs[leg - 2])[-1]) if leg > 1 else "/t/"


def _onward_from(walk: WalkThrough, leg: int) -> str:
    """After the last step: of a medicine that is given, its report; otherwise the next leg."""
    mine = walk.legs[leg - 1]
    if mine.part == "give" or leg == len(walk.legs):
        place = next(place for place, one in enumerate(walk.injections, 1) if one.id == mine.injection)
        return f"/t/{place}/done/"
    return _first_step(walk, leg + 1)


def leg_after(visit: Visit, walk: WalkThrough, injection: str) -> tuple[WalkLeg, str] | None:
    """What follows at the same minute once a medicine is given; None where nothing does."""
    last = max(number for number, leg in enumerate(walk.legs, 1) if leg.injection == injection)
    at, told = walk.injection(injection).at, told_of(visit)
    follows = (
        (leg, _first_step(walk, number))
        for number, leg in enumerate(walk.legs, 1)
        if number > last and walk.injection(leg.injection).at == at and leg.injection not in told
    )
    return next(follows, None)


def _first_step(walk: WalkThrough, leg: int) -> str:
    return _address(leg, _shown(walk, walk.legs[leg - 1])[0])


def _address(leg: int, found: WalkStep) -> str:
    return f"/t/steps/{leg}/{found.number}/"


@phone_page("GET", "HEAD")
def picture(visit: Visit, key: str, name: str) -> HttpResponse:
    """A step's picture as it was drawn with her page: still, or in motion."""
    walk = visit.walk
    drawn = next((one for one in walk.pictures if one.key == key), None) if walk is not None else None
    source = {"still": drawn.still, "moving": drawn.moving}.get(name) if drawn is not None else None
    if source is None:
        return gone(visit.request)
    return HttpResponse(source, content_type="image/svg+xml")


@phone_page("POST")
def ask(visit: Visit) -> HttpResponse:
    """She is stuck, and wants to be rung."""
    typed, walk = visit.request.POST, visit.walk
    leg, number = (int(part) if part.isdecimal() else 0 for part in (typed.get("leg", ""), typed.get("step", "")))
    here = _here(walk, leg, number) if walk is not None else None
    injection = here.injection.id if here is not None else None
    asked = AskHelp(visit.state.id, injection, _where(here), "stuck")
    answer = visit.perform(asked, key_for(visit.link, "stuck", asked.where, _seen(visit)))
    if not isinstance(answer, Done):
        return gone(visit.request)
    return redirect(_address(leg, here.step) if here is not None else "/t/")


def _where(here: Here | None) -> str:
    """Where she stands, for whoever rings her."""
    if here is None:
        return "the list of her medicines"
    part = "get ready" if here.leg.part == "ready" else "give"
    return f"{part}, step {here.step.number}: {here.step.code.replace('-', ' ')}"

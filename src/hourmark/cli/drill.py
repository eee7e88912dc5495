"""hourmark drill: an invented night of all the calls, answered at the keyboard or out of a file, and its score sheet."""

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import click

from hourmark.cli.show import OK, STOPPED, answer_json, print_findings, unread, unreadable
from hourmark.drill import (
    ASKED,
    BANNER,
    DECIDERS,
    EXAMPLES,
    KINDS,
    PART_WORDS,
    TYPED,
    Answers,
    Round,
    Scored,
    answers_from,
    card,
    rounds,
    score,
    totals,
)
from hourmark.exchange.answers import findings_json
from hourmark.finding import Finding, Unreadable
from hourmark.incident.calls import calls

Answering: TypeAlias = Callable[[Round], Answers]


def run(seed: int, path: Path | None, count: int | None, as_json: bool) -> int:
    """Run the drill, print its score sheet, and give the exit status."""
    if count is not None and not 1 <= count <= len(calls()):
        wrong = Unreadable(f"A drill has 1 to {len(calls())} calls, not {count}.", "Give --calls a number among them.")
        return unread("drill", [unreadable(wrong, "--calls")], as_json=as_json)
    if path is None and as_json:
        wrong = Unreadable(
            "A drill with --json takes its answers from a file.", "Give --answers FILE, or leave --json out."
        )
        return unread("drill", [unreadable(wrong, "--answers")], as_json=as_json)
    if path is None and sys.stdin is None:
        wrong = Unreadable(
            "A drill is answered at the keyboard, and standard input is closed.", "Give --answers FILE, or open it."
        )
        return unread("drill", [unreadable(wrong, "standard input")], as_json=as_json)
    try:
        answering = _ask if path is None else _out_of(answers_from(path.read_text(encoding="utf-8")))
    except (Unreadable, OSError, UnicodeDecodeError) as error:
        wrong = error if isinstance(error, Unreadable) else Unreadable(f"{path}: {error}", "Name a file of answers.")
        return unread("drill", [unreadable(wrong, "--answers")], as_json=as_json)
    scored, findings = _play(rounds(seed, count), answering, aloud=path is None)
    if as_json:
        answer_json(_json(seed, scored, findings))
    else:
        _print_sheet(seed, scored)
        print_findings(findings)
    return STOPPED if findings else OK


def _play(asked: Iterable[Round], answering: Answering, *, aloud: bool) -> tuple[list[Scored], list[Finding]]:
    scored: list[Scored] = []
    findings: list[Finding] = []
    if aloud:
        click.echo(f"{BANNER}\nLeave an answer blank when you do not know it.")
    for one in asked:
        try:
            outcome = score(one, answering(one))
        except click.Abort:
            click.echo("\n\nEnded here; the calls answered so far are scored.")
            break
        if isinstance(outcome, Finding):
            findings.append(outcome)
        else:
            scored.append(outcome)
            if aloud:
                _print_answer(outcome)
    return scored, findings


def _out_of(answers: dict[str, Answers]) -> Answering:
    """Answers from a file; a call that it does not name stays unanswered."""
    return lambda one: answers.get(one.scene.call.id, Answers())


def _ask(one: Round) -> Answers:
    """Answers at the keyboard: her words first, what she says when asked only after the first question."""
    scene = one.scene
    click.echo(f"\n{BANNER}\nCall {one.place}. {scene.now} on the clinic's clock, case {scene.case}.\n")
    for line in card(scene.case):
        click.echo(f"  {line}")
    click.echo(f'\n  "{scene.words}"\n')
    ask = _choose("What do you ask first?", {text: text for text in one.first_questions})
    click.echo(f'\n  "{scene.told}"\n')
    kind = _choose("What is it?", KINDS)
    number = _type(f"{ASKED[scene.wants]} (such as {EXAMPLES[scene.wants]})") if scene.wants is not None else ""
    who = _choose("Who decides?", DECIDERS)
    note = _type("The note: who decides, and the number if there is one")
    return Answers(kind, ask, number, who, note)


def _choose(question: str, choices: dict[str, str]) -> str:
    """The key of a choice by its number; blank is no answer."""
    click.echo(question)
    for place, words in enumerate(choices.values(), 1):
        click.echo(f"  {place}  {words}")
    while True:
        typed = _type("Number")
        if not typed:
            return ""
        if typed.isdecimal() and 1 <= int(typed) <= len(choices):
            return list(choices)[int(typed) - 1]
        click.echo(f"Type a number from 1 to {len(choices)}, or nothing.")


def _type(prompt: str) -> str:
    return str(click.prompt(prompt, default="", show_default=False)).strip()


def _print_answer(one: Scored) -> None:
    for line in _lines(one):
        click.echo(line)


def _lines(one: Scored) -> list[str]:
    """One call of the score sheet: what was right, and the answer with where it comes from."""
    scene, call = one.round.scene, one.round.scene.call
    marks = ", ".join(f"{PART_WORDS[part]} {'right' if right else 'WRONG'}" for part, right in one.right.items())
    lines = [
        f"\n{one.round.place}. {call.id} {call.question}",
        f"   {marks}",
        f"   It is: {KINDS[scene.kind]}.",
        f"   Ask first: {one.round.first}.",
        *([f"   {ASKED[scene.wants]}: {one.number}."] if scene.wants is not None else []),
        f"   Who decides: {scene.who}.",
    ]
    lines += [f"   Say: {sentence.text} [{sentence.source}]" for sentence in call.say]
    return [*lines, *(f"   Not: {text}" for text in call.never)]


def _print_sheet(seed: int, scored: Sequence[Scored]) -> None:
    many = f"{len(scored)} call" if len(scored) == 1 else f"{len(scored)} calls"
    click.echo(f"\n{BANNER}\nScore sheet, seed {seed}, {many}")
    for one in scored:
        for line in _lines(one):
            click.echo(line)
    click.echo()
    for part, (right, of) in totals(scored).items():
        click.echo(f"{PART_WORDS[part]:>14}: {right} of {of}")
    click.echo(f"{'in all':>14}: {sum(_points(one) for one in scored)} of {sum(len(one.right) for one in scored)}")
    click.echo(f"\nA note counts when it names who decides, and the right number where there is one.\n{BANNER}")


def _points(one: Scored) -> int:
    return sum(one.right.values())


def _json(seed: int, scored: Sequence[Scored], findings: Sequence[Finding]) -> dict[str, Any]:
    return {
        "drill": BANNER,
        "seed": seed,
        "calls": [_call(one) for one in scored],
        "right": {part: {"right": right, "of": of} for part, (right, of) in totals(scored).items()},
        "points": sum(_points(one) for one in scored),
        "of": sum(len(one.right) for one in scored),
        "findings": findings_json(findings),
    }


def _call(one: Scored) -> dict[str, Any]:
    scene = one.round.scene
    return {
        "call": scene.call.id,
        "case": scene.case,
        "card": list(card(scene.case)),
        "at": scene.now,
        "words": scene.words,
        "told": scene.told,
        "answers": {part: getattr(one.answers, part) for part in TYPED},
        "right": {part: one.right.get(part) for part in TYPED},
        "kind": scene.kind,
        "ask": one.round.first,
        "number": one.number,
        "who": str(scene.who),
        "say": [{"text": sentence.text, "source": sentence.source} for sentence in scene.call.say],
        "never": list(scene.call.never),
    }

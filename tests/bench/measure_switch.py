"""Switching to another release under load: how much later answers come meanwhile, and whether one fails."""

from collections.abc import Iterator
from itertools import cycle, islice, takewhile
from random import Random
from threading import Event, Thread
from time import perf_counter, sleep
from typing import Final

import msgspec

from service.api import garbage
from service.fit.build import Build
from tests.bench.client import Answered, Request, drive, get, post
from tests.bench.results import Result, measured, slower
from tests.bench.setting import Setting
from tests.bench.successive import answering_release, publish, successive
from tests.bench.timing import Sample
from tests.serving import served

SWITCHES: Final = 3
BUSY: Final = 1 / 3
"""Requests come at this share of the pace that the worker keeps up when it has nothing else to do."""
NEW: Final = 0.1
"""The share of questions that nobody asked before."""
AFTERWARDS: Final = 1.0
"""Seconds that count to a switch after the first answer from the new release, as all that was kept is made again."""
_ADDRESS: Final = "/v1/fits?detail=brief"
"""As a storefront's page asks."""
_encode = msgspec.json.Encoder(order="deterministic").encode


def switch(setting: Setting) -> Iterator[Result]:
    """Answers in the switches against those of the time before them, at 10,000 parts where that size was asked for."""
    parts = 10_000 if 10_000 in setting.sizes else setting.largest
    made = setting.made(parts)
    hoses = [number for number, part in made.snapshot.parts.items() if part.kind == "hose"]
    requests = _questions(made.builds.plain, hoses)
    states = successive(setting, parts, SWITCHES + 1)
    path = setting.folder / "served.sqlite"
    publish(states[0], path)
    answered: list[Answered] = []
    windows: list[tuple[float, float]] = []
    stopped = Event()
    # Whoever asks must not be kept waiting by their own collector, and take it for the service.
    with served(f"sqlite:///{path}", seconds=600) as ours, garbage.not_looked_for():
        drive(ours.port, islice(requests, 300), 4, lambda _: None)
        most = _kept_up(ours.port, requests, max(2.0, setting.seconds))
        pace = round(BUSY * most)
        asked = takewhile(lambda _: not stopped.is_set(), requests)
        load = Thread(target=drive, args=(ours.port, asked, 64, answered.append), kwargs={"pace": pace})
        load.start()
        try:
            for number, state in enumerate(states[1:], start=2):
                sleep(max(5.0, setting.seconds))
                began = perf_counter()
                publish(state, path)
                while answering_release(ours.port, "/v1/releases/latest") != number:
                    sleep(0.1)
                sleep(AFTERWARDS)
                windows.append((began, perf_counter()))
        finally:
            stopped.set()
            load.join()
    load_said = f"{pace} questions a second of {most:.0f} that the worker keeps up, {NEW:.0%} of them new"
    yield from _rows(f"{parts:,} parts, {load_said}", answered, windows)


def _kept_up(port: int, requests: Iterator[Request], seconds: float) -> float:
    """Requests a second that are answered where each of four connections sends the next when it has its answer."""
    answered: list[Answered] = []
    took = drive(port, requests, 4, answered.append, seconds=seconds)
    return len(answered) / took


def _rows(load: str, answered: list[Answered], windows: list[tuple[float, float]]) -> Iterator[Result]:
    within: list[tuple[float, float]] = []
    before: list[tuple[float, float]] = []
    for each in answered:
        due = each.at - each.seconds
        met = any(began <= each.at and due <= ended for began, ended in windows)
        (within if met else before).append((each.seconds, 0.0))
    ours, peer = (
        msgspec.structs.replace(sample, median=sample.p99) for sample in (Sample.of(within), Sample.of(before))
    )
    seconds = sum(ended - began for began, ended in windows) / len(windows)
    what = f"99 of 100 answers while a release is switched, {load}"
    yield slower(what, ours, peer, "the same while it is quiet", 10, f"{len(windows)} switches of {seconds:.1f} s")
    failed = sum(each.status != 200 for each in answered)
    yield measured(f"of {len(answered):,} requests around these switches failed", failed, "requests", 0)


def _questions(plain: Build, hoses: list[str]) -> Iterator[Request]:
    """Fifty questions over and over, and now and then one that was not asked before."""
    chance = Random(1)
    asked = [post(_ADDRESS, _encode(_without(plain, hose))) for hose in hoses[:25]]
    asked += [get(f"/v1/parts/{number}") for number in hoses[:25]]
    own = cycle(hoses[25:])
    while True:
        if chance.random() < NEW:
            yield Request("new", post(_ADDRESS, _encode(_without(plain, next(own)))))
        else:
            yield Request("known", chance.choice(asked))


def _without(plain: Build, number: str) -> Build:
    return msgspec.convert(msgspec.to_builtins(plain) | {"must": {"without": [number]}}, Build)

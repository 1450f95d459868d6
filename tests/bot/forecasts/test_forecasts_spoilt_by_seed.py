"""Answers of weather services spoilt in many ways at once, each told by its seed: read or refused in two seconds."""

import json
import random
import time
from typing import Any

import pytest

from bot.forecasts import WeatherServiceError
from tests.bot.forecasts.test_forecasts_spoilt import ODD, READERS, spoilt, spots

PROMISED_S = 2.0  # of one core; thousands of each are run by tests/benchmarks/mutated_files.py


def answer_body(seed: int) -> tuple[str, str]:
    """Which reader, and an answer for it with one to six values made odd, then perhaps letters, or its end, gone."""
    chance = random.Random(seed)
    name = chance.choice(sorted(READERS))
    document: Any = READERS[name][0]
    for _ in range(chance.randint(1, 6)):
        places = list(spots(document))
        if places:
            document = json.loads(spoilt(document, chance.choice(places), chance.choice(ODD)))
    body = json.dumps(document)
    for _ in range(chance.choice([0, 0, 1, 4])):
        at = chance.randint(0, len(body))
        body = body[:at] + chance.choice(['"', "{", "]", ",", "\\", "9" * 400, "é", "\0", ""]) + body[at + 1 :]
    if chance.random() < 0.2:
        body = body[: chance.randint(0, len(body))]
    if chance.random() < 0.05:
        body = "[" * 100_000 + body
    return name, body


def read_spoilt_answer(seed: int) -> bool:
    """Whether the answer of a seed is read; anything but a forecast or a WeatherServiceError is raised."""
    name, body = answer_body(seed)
    try:
        READERS[name][1](body)
    except WeatherServiceError as error:
        said = str(error)
        assert 0 < len(said) < 20_000
        assert len(said.splitlines()) <= 22
        return False
    return True


@pytest.mark.parametrize("first", range(0, 100, 20))
def test_a_spoilt_answer_is_a_forecast_or_a_refusal_within_the_promised_time(first: int) -> None:
    for seed in range(first, first + 20):
        began_s = time.process_time()
        read_spoilt_answer(seed)
        assert time.process_time() - began_s < PROMISED_S, seed

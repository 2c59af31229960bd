"""The core's settings as recordings carry them: read exactly, or refused."""

import contextlib
import datetime as dt
import json
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_from_json, settings_to_json
from driftlead.errors import RecordingError
from driftlead.watch.settings import (
    BoatSettings,
    DetectorSettings,
    LimitSettings,
    OutlookSettings,
    TackleSettings,
    WatchSettings,
)

NUMBERS = st.floats(0.0, 1e4)
SETTINGS = st.builds(
    CoreSettings,
    watch=st.builds(
        WatchSettings,
        boat=st.builds(BoatSettings, bow_height_m=NUMBERS, antenna_aft_m=NUMBERS),
        tackle=st.builds(TackleSettings, rode_aboard_m=st.none() | NUMBERS, rode_slack=NUMBERS),
        detector=st.builds(DetectorSettings, dwell_s=NUMBERS, sigmas=NUMBERS, fix_sigma_m=NUMBERS),
        limits=st.builds(LimitSettings, stale_warning_s=NUMBERS, rode_unknown_s=NUMBERS),
        outlook=st.builds(
            OutlookSettings,
            wind_mps=st.none() | NUMBERS,
            tide=st.lists(
                st.tuples(st.floats(0.0, 1e9), st.floats(-9.0, 9.0)),
                unique_by=lambda turn: turn[0],
                max_size=4,
            ).map(lambda turns: tuple(sorted(turns))),
            draught_m=st.none() | NUMBERS,
            utc_offset_s=st.floats(-5e4, 5e4),
        ),
    ),
    source_order=st.lists(st.text(max_size=5), max_size=3).map(tuple),
    earliest_date=st.none() | st.dates(),
    require_checksum=st.booleans(),
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["watch", "boat", "detector", "dwell_s", "source_order", "sails"]),
            inner,
        )
    ),
    max_leaves=6,
)


@given(settings=SETTINGS)
def test_settings_come_back_to_the_last_bit(settings: CoreSettings) -> None:
    """Decisions hang on them, and a replay must decide the same."""
    assert settings_from_json(json.loads(json.dumps(settings_to_json(settings)))) == settings


def test_what_is_not_written_is_as_by_default() -> None:
    """A recording made before a setting came to be."""
    assert settings_from_json({}) == CoreSettings()
    data = {"watch": {"boat": {"antenna_aft_m": 8}}, "earliest_date": "2026-01-01"}
    assert settings_from_json(data) == CoreSettings(
        watch=WatchSettings(boat=BoatSettings(antenna_aft_m=8.0)),
        earliest_date=dt.date(2026, 1, 1),
    )


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ({"watch": {"detector": {"dwell_s": "long"}}}, "dwell_s"),
        ({"watch": {"sails": 3}}, "sails"),
        ({"watch": []}, "watch"),
        ({"watch": {"outlook": {"tide": [[2.0, 1.0], [1.0, 1.0]]}}}, "outlook"),
        ({"require_checksum": "false"}, "require_checksum"),
        ({"earliest_date": "yesterday"}, "earliest_date"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_its_name(data: dict[str, Any], word: str) -> None:
    with pytest.raises(RecordingError, match=word) as refused:
        settings_from_json(data)
    assert refused.value.remedy


@given(data=ANYTHING)
def test_any_json_is_settings_or_a_clear_refusal(data: Any) -> None:
    with contextlib.suppress(RecordingError):
        assert isinstance(settings_from_json(cast("dict[str, Any]", data)), CoreSettings)

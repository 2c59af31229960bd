"""Who is called when: scripted nights, each step with what should come of it.

The steps of 15 s and 90 s are those of a bridge navigational watch alarm system (IMO MSC.128(75)
4.1.2: second and third stage), the silence of 30 s that of MSC.302(87).
"""

from typing import TYPE_CHECKING

import pytest
from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.call import Call, CallReason
from driftlead.alerts.management import AlertNews
from driftlead.alerts.settings import AlertSettings, EscalationSettings, OutletSettings
from driftlead.errors import RefusedError

if TYPE_CHECKING:
    from tests.alerts.conftest import Desk

HOUR_S = 3600.0


def told(news: list[AlertNews]) -> list[str]:
    """Calls in short: when, why, who, and how loudly."""
    return [
        f"{call.mono_s:g} {call.reason.value} {'+'.join(call.outlets)} {call.loudness}"
        for call in news
        if isinstance(call, Call)
    ]


def states(news: list[AlertNews]) -> list[str]:
    """Changes of alerts."""
    return [f"{e.mono_s:g} {e.name} {e.state.value}" for e in news if isinstance(e, Alert)]


class TestAlarm:
    """An alarm goes on to everybody."""

    def test_it_calls_one_then_a_second_then_everybody_ever_louder(self, desk: "Desk") -> None:
        # At once: the log, and the skipper, whose watch it is.
        assert told(desk.raise_()) == ["0 first log+aft 0"]
        # Nobody answers for 15 s: the mate too, and the skipper hears it louder.
        assert told(desk.until(15.0)) == ["15 escalated fore 1", "15 louder log+aft 1"]
        # After 90 s: everybody.
        assert told(desk.until(90.0)) == ["90 escalated saloon 2", "90 louder log+aft+fore 2"]
        # From there it is repeated to everybody every two minutes.
        assert told(desk.until(330.0)) == [
            "210 again log+aft+fore+saloon 3",
            "330 again log+aft+fore+saloon 4",
        ]

    def test_loudness_stops_at_nine(self, desk: "Desk") -> None:
        """One digit, as in an ALF sentence."""
        desk.raise_()
        desk.until(3 * HOUR_S)
        assert max(call.loudness for call in desk.calls()) == 9

    @pytest.mark.parametrize("answered_s", [0.0, 14.9, 15.0, 40.0, 90.0, 1000.0])
    def test_an_answer_ends_the_calling_and_everybody_called_hears_of_it(
        self, desk: "Desk", answered_s: float
    ) -> None:
        desk.raise_()
        desk.until(answered_s)
        heard = {name for call in desk.calls() for name in call.outlets}
        (answer,) = [call for call in desk.acknowledge() if isinstance(call, Call)]
        assert set(answer.outlets) == heard
        assert (answer.reason, answer.alert.state) == (
            CallReason.CHANGED,
            AlertState.ACTIVE_ACKNOWLEDGED,
        )
        assert desk.until(answered_s + HOUR_S) == []

    def test_its_end_reaches_everybody_who_was_called(self, desk: "Desk") -> None:
        desk.raise_("data_stale", Priority.ALARM)
        desk.until(20.0)
        assert told(desk.raise_("data_stale", None)) == ["20 changed log+aft+fore 1"]
        assert desk.until(HOUR_S) == []
        assert told(desk.acknowledge()) == ["3600 changed log+aft+fore 1"]
        assert desk.management.pagings(desk.now_s) == ()

    def test_up_again_before_the_answer_it_calls_whoever_was_called_before(
        self, desk: "Desk"
    ) -> None:
        """They were told that it is over, which is true no longer."""
        desk.raise_("data_stale", Priority.ALARM)
        desk.until(20.0)
        desk.raise_("data_stale", None)
        assert told(desk.raise_("data_stale", Priority.ALARM)) == ["20 first log+aft+fore 0"]

    def test_figures_that_change_are_told_without_a_new_step(self, desk: "Desk") -> None:
        desk.raise_("data_stale", Priority.ALARM)
        desk.until(5.0)
        assert told(desk.raise_("data_stale", Priority.ALARM, reason="other")) == [
            "5 changed log+aft 0"
        ]
        assert told(desk.until(15.0)) == ["15 escalated fore 1", "15 louder log+aft 1"]

    def test_at_four_the_mate_takes_the_watch_over_and_the_repeats(
        self, make_desk: "type[Desk]"
    ) -> None:
        desk = make_desk(utc_s=1_780_358_400.0 + 4 * HOUR_S - 60.0)
        desk.raise_("fix_lost", Priority.WARNING)
        assert told(desk.until(120.0)) == ["120 escalated fore 1", "120 again log+aft 1"]


class TestOthers:
    """A caution wakes nobody, a warning one."""

    def test_a_caution_is_logged_and_that_is_all(self, desk: "Desk") -> None:
        assert told(desk.raise_("fix_poor", Priority.CAUTION)) == ["0 first log 0"]
        assert desk.until(24 * HOUR_S) == []
        assert told(desk.raise_("fix_poor", None)) == [f"{24 * HOUR_S:g} changed log 0"]

    def test_a_warning_calls_whose_watch_it_is_until_it_becomes_an_alarm(
        self, desk: "Desk"
    ) -> None:
        assert told(desk.raise_("fix_lost", Priority.WARNING)) == ["0 first log+aft 0"]
        assert told(desk.until(299.9)) == ["120 again log+aft 1", "240 again log+aft 2"]
        # Five minutes without an answer: an alarm, which has its own steps from there.
        news = desk.until(300.0)
        assert states(news) == ["300 fix_lost active_unacknowledged"]
        assert told(news) == ["300 more_urgent log+aft 2"]
        assert news[0] is not None
        assert [each.priority for each in news if isinstance(each, Alert)] == [Priority.ALARM]
        assert told(desk.until(390.0)) == [
            "315 escalated fore 3",
            "315 louder log+aft 3",
            "390 escalated saloon 4",
            "390 louder log+aft+fore 4",
        ]

    def test_a_warning_that_is_answered_stays_a_warning(self, desk: "Desk") -> None:
        desk.raise_("fix_lost", Priority.WARNING)
        desk.until(299.0)
        desk.acknowledge()
        assert desk.until(HOUR_S) == []

    def test_a_warning_never_becomes_an_alarm_where_the_owner_says_so(
        self, make_desk: "type[Desk]", crew_settings: AlertSettings
    ) -> None:
        settings = evolve(crew_settings, escalation=EscalationSettings(warning_becomes_alarm_s=0.0))
        desk = make_desk(settings)
        desk.raise_("fix_lost", Priority.WARNING)
        desk.until(HOUR_S)
        assert {call.alert.priority for call in desk.calls()} == {Priority.WARNING}
        assert {name for call in desk.calls() for name in call.outlets} == {"log", "aft"}

    def test_while_no_watch_is_on_a_warning_wakes_no_more_than_one(self, desk: "Desk") -> None:
        """A receiver that is switched off in harbour; but from let go on its time counts."""
        desk.management.watch_is(False, 0.0)
        desk.raise_("source_silent", Priority.WARNING)
        desk.until(HOUR_S)
        assert {call.alert.priority for call in desk.calls()} == {Priority.WARNING}
        desk.management.watch_is(True, desk.now_s)
        desk.until(HOUR_S + 299.0)
        assert {call.alert.priority for call in desk.calls()} == {Priority.WARNING}
        assert "data" not in told(desk.until(HOUR_S + 300.0))[0]
        assert desk.calls()[-1].alert.priority is Priority.ALARM

    def test_growing_from_warning_to_alarm_begins_with_the_first_step_again(
        self, desk: "Desk"
    ) -> None:
        desk.raise_("data_stale", Priority.WARNING)
        desk.until(150.0)
        assert told(desk.raise_("data_stale", Priority.ALARM)) == ["150 more_urgent log+aft 1"]
        assert told(desk.until(165.0)) == ["165 escalated fore 2", "165 louder log+aft 2"]

    def test_an_alarm_that_eases_to_a_warning_calls_nobody_else(self, desk: "Desk") -> None:
        desk.raise_("data_stale", Priority.ALARM)
        desk.until(10.0)
        assert told(desk.raise_("data_stale", Priority.WARNING)) == ["10 changed log+aft 0"]
        assert told(desk.until(125.0)) == ["120 again log+aft 1"]


class TestSilence:
    """Half a minute of quiet is no answer."""

    def test_it_sounds_again_and_what_is_overdue_follows_at_once(self, desk: "Desk") -> None:
        desk.raise_()
        desk.until(10.0)
        # Quiet for all who were called.
        assert told(desk.silence()) == ["10 changed log+aft 0"]
        # The second place would have been called at 15 s: it is when the quiet is over.
        assert desk.until(39.9) == []
        news = desk.until(40.0)
        assert states(news) == ["40 drag active_unacknowledged"]
        assert told(news) == [
            "40 silence_ran_out log+aft 0",
            "40 escalated fore 1",
            "40 louder log+aft 1",
        ]
        assert told(desk.until(90.0))[0] == "90 escalated saloon 2"

    def test_an_answer_within_it_is_the_end(self, desk: "Desk") -> None:
        desk.raise_()
        desk.silence()
        desk.until(29.0)
        assert told(desk.acknowledge()) == ["29 changed log+aft 0"]
        assert desk.until(HOUR_S) == []

    def test_it_cannot_be_drawn_out_by_silencing_again(self, desk: "Desk") -> None:
        desk.raise_()
        desk.silence()
        desk.until(29.0)
        assert desk.silence() == []
        assert told(desk.until(30.0))[0] == "30 silence_ran_out log+aft 0"

    def test_another_alarm_is_heard_meanwhile(self, desk: "Desk") -> None:
        desk.raise_()
        desk.silence()
        desk.until(5.0)
        assert told(desk.raise_("data_stale", Priority.ALARM)) == ["5 first log+aft 0"]


class TestHandingOver:
    """The responsibility for an alert goes over to one of the crew, for a while."""

    def test_it_sounds_at_the_taker_alone(self, desk: "Desk") -> None:
        desk.raise_()
        desk.until(5.0)
        news = desk.hand_over("mate")
        assert states(news) == ["5 drag responsibility_transferred"]
        assert told(news) == ["5 handed_over fore 0", "5 changed log+aft 0"]
        his, others = [each for each in news if isinstance(each, Call)]
        # To the mate it is what it is: active, and unanswered.
        assert his.alert.state is AlertState.ACTIVE_UNACKNOWLEDGED
        assert others.alert.state is AlertState.RESPONSIBILITY_TRANSFERRED
        assert his.alert.handed_to == others.alert.handed_to == "mate"
        assert desk.until(94.9) == []
        assert told(desk.acknowledge()) == ["94.9 changed log+aft+fore 0"]
        assert desk.until(HOUR_S) == []

    def test_unanswered_for_a_minute_and_a_half_it_is_everybodys_again(self, desk: "Desk") -> None:
        desk.raise_()
        desk.until(5.0)
        desk.hand_over("mate")
        news = desk.until(95.0)
        assert states(news) == ["95 drag active_unacknowledged"]
        assert told(news) == [
            "95 taken_back log+aft+fore 0",
            "95 escalated saloon 2",
            "95 louder log+aft+fore 2",
        ]

    def test_a_taker_who_cannot_be_reached_any_more_is_not_waited_for(self, desk: "Desk") -> None:
        desk.raise_()
        desk.hand_over("mate")
        desk.until(20.0)
        desk.raise_("notifier_failed", Priority.WARNING, instance="fore")
        assert "20 taken_back log+aft+fore 0" in told(desk.until(20.0))

    def test_figures_that_change_meanwhile_reach_both_as_it_stands_for_them(
        self, desk: "Desk"
    ) -> None:
        desk.raise_("data_stale", Priority.ALARM)
        desk.hand_over("mate")
        his, others = [
            each
            for each in desk.raise_("data_stale", Priority.ALARM, reason="other")
            if isinstance(each, Call)
        ]
        assert (his.outlets, his.alert.state.sounds) == (("fore",), True)
        assert (others.outlets, others.alert.state.sounds) == (("log", "aft"), False)

    def test_only_to_one_of_the_crew_who_can_be_reached(
        self, desk: "Desk", make_desk: "type[Desk]", crew_settings: AlertSettings
    ) -> None:
        desk.raise_()
        with pytest.raises(RefusedError, match="'cook'") as refused:
            desk.hand_over("cook")
        assert refused.value.remedy == "The crew are: skipper, mate, hand."
        desk.raise_("notifier_failed", Priority.WARNING, instance="fore")
        with pytest.raises(RefusedError, match="mate cannot be reached") as refused:
            desk.hand_over("mate")
        assert refused.value.remedy
        alone = make_desk(AlertSettings(outlets=crew_settings.outlets))
        alone.raise_()
        with pytest.raises(RefusedError, match="no watch bill") as refused:
            alone.hand_over("mate")
        assert "[[crew]]" in refused.value.remedy
        assert alone.management.alerts[0].state is AlertState.ACTIVE_UNACKNOWLEDGED


class TestFailedNotifiers:
    """A call that nobody can have heard does not count."""

    def test_when_nobody_called_can_have_heard_it_the_next_step_comes_at_once(
        self, desk: "Desk"
    ) -> None:
        desk.raise_()
        desk.until(3.0)
        failed = desk.raise_("notifier_failed", Priority.WARNING, instance="aft")
        # The warning that it failed goes to the mate, with the skipper.
        assert told(failed) == ["3 first log+aft+fore 0"]
        assert told(desk.until(3.0)) == ["3 escalated fore 1", "3 louder log+aft 1"]

    def test_one_known_to_have_failed_is_called_with_the_next_from_the_start(
        self, desk: "Desk"
    ) -> None:
        desk.raise_("notifier_failed", Priority.WARNING, instance="aft")
        assert told(desk.raise_()) == ["0 first log+aft+fore 0"]

    def test_when_none_works_everybody_is_called_at_once_and_it_ends_there(
        self, desk: "Desk"
    ) -> None:
        for name in ("aft", "fore", "saloon"):
            desk.raise_("notifier_failed", Priority.WARNING, instance=name)
        assert told(desk.raise_()) == ["0 first log+aft+fore+saloon 0"]
        assert told(desk.until(119.0)) == []

    def test_one_that_works_again_counts_again(self, desk: "Desk") -> None:
        desk.raise_("notifier_failed", Priority.WARNING, instance="aft")
        desk.raise_("notifier_failed", None, instance="aft")
        assert told(desk.raise_()) == ["0 first log+aft 0"]


class TestWithoutACrew:
    """No watch bill: every notifier is told of everything at once."""

    def test_everything_goes_to_everybody_and_only_grows_louder(
        self, make_desk: "type[Desk]", crew_settings: AlertSettings
    ) -> None:
        desk = make_desk(AlertSettings(outlets=crew_settings.outlets))
        everybody = "log+aft+fore+saloon"
        assert told(desk.raise_()) == [f"0 first {everybody} 0"]
        assert told(desk.until(210.0)) == [
            f"15 louder {everybody} 1",
            f"90 louder {everybody} 2",
            f"210 again {everybody} 3",
        ]

    def test_without_notifiers_nothing_is_called_but_time_runs_all_the_same(
        self, make_desk: "type[Desk]"
    ) -> None:
        """As in the replay of a bare log."""
        desk = make_desk(AlertSettings())
        desk.raise_("fix_lost", Priority.WARNING)
        desk.silence()
        desk.until(HOUR_S)
        assert desk.calls() == []
        assert states(desk.news) == [
            "0 fix_lost active_unacknowledged",
            "0 fix_lost silenced",
            "30 fix_lost active_unacknowledged",
            "300 fix_lost active_unacknowledged",
        ]


class TestTakeover:
    """A notifier by which somebody takes an alert over: a display on the bridge."""

    def test_it_alone_sounds_until_it_is_answered_there(self, desk: "Desk") -> None:
        desk.raise_()
        news = desk.note(desk.management.hand_over("log", "drag", desk.now, where="log"))
        assert told(news) == ["0 handed_over log 0", "0 changed aft 0"]
        theirs, others = [each for each in news if isinstance(each, Call)]
        assert (theirs.alert.state.sounds, theirs.alert.handed_to) == (True, "log")
        assert others.alert.state is AlertState.RESPONSIBILITY_TRANSFERRED
        desk.until(60.0)
        answered = desk.note(desk.management.acknowledge("drag", desk.now, where="log"))
        assert states(answered) == ["60 drag active_acknowledged"]
        assert desk.until(HOUR_S) == []

    def test_unanswered_it_is_everybodys_again_after_90_s(self, desk: "Desk") -> None:
        desk.raise_()
        desk.note(desk.management.hand_over("log", "drag", desk.now, where="log"))
        assert told(desk.until(90.0))[0] == "90 taken_back log+aft 0"

    def test_when_it_fails_it_is_everybodys_again_at_once(self, desk: "Desk") -> None:
        desk.raise_()
        desk.note(desk.management.hand_over("log", "drag", desk.now, where="log"))
        desk.until(20.0)
        desk.raise_("notifier_failed", Priority.WARNING, instance="log")
        assert told(desk.until(20.0))[0] == "20 taken_back log+aft 0"

    @pytest.mark.parametrize(("to", "where"), [("log", None), ("log", "aft"), ("radio", "radio")])
    def test_only_what_asks_for_itself_and_is_there_gets_it(
        self, desk: "Desk", to: str, where: str | None
    ) -> None:
        desk.raise_()
        with pytest.raises(RefusedError, match=f"Nobody called '{to}'"):
            desk.management.hand_over(to, None, desk.now, where=where)

    def test_a_failed_one_does_not_get_it(self, desk: "Desk") -> None:
        desk.raise_()
        desk.raise_("notifier_failed", Priority.WARNING, instance="log")
        with pytest.raises(RefusedError, match="cannot be reached"):
            desk.management.hand_over("log", None, desk.now, where="log")

    def test_it_needs_no_watch_bill(self, make_desk: "type[Desk]") -> None:
        lonely = make_desk(AlertSettings(outlets=(OutletSettings(name="bridge"),)))
        lonely.raise_()
        news = lonely.management.hand_over("bridge", None, lonely.now, where="bridge")
        assert states(news) == ["0 drag responsibility_transferred"]


class TestRestart:
    """A power cut at any step neither loses a call nor begins anew."""

    @pytest.mark.parametrize(
        ("cut_s", "resumed", "following"),
        [
            (0.0, "5 resumed log+aft 0", "20 escalated fore 1"),
            (14.0, "5 resumed log+aft 0", "6 escalated fore 1"),
            (15.0, "5 resumed log+aft+fore 1", "80 escalated saloon 2"),
            (89.0, "5 resumed log+aft+fore 1", "6 escalated saloon 2"),
            (90.0, "5 resumed log+aft+fore+saloon 2", "125 again log+aft+fore+saloon 3"),
            (500.0, "5 resumed log+aft+fore+saloon 5", "75 again log+aft+fore+saloon 6"),
        ],
    )
    def test_it_goes_on_from_its_step_with_who_was_called(
        self, desk: "Desk", cut_s: float, resumed: str, following: str
    ) -> None:
        desk.raise_()
        desk.until(cut_s)
        again = desk.restarted()
        assert told(again.management.resumed(again.now)) == [resumed]
        assert told(again.until(200.0))[0] == following

    def test_a_silence_is_over(self, desk: "Desk") -> None:
        """How long it had lasted is not known: nothing is saved while nothing happens."""
        desk.raise_()
        desk.silence()
        desk.until(20.0)
        again = desk.restarted(as_saved=True)
        news = again.management.resumed(again.now)
        assert states(news) == ["5 drag active_unacknowledged"]
        assert told(news) == ["5 silence_ran_out log+aft 0"]

    def test_what_was_handed_over_still_is_and_sounds_at_the_taker(self, desk: "Desk") -> None:
        desk.raise_()
        desk.hand_over("mate")
        desk.until(60.0)
        again = desk.restarted()
        his, others = [
            each for each in again.management.resumed(again.now) if isinstance(each, Call)
        ]
        assert (his.outlets, his.alert.state.sounds) == (("fore",), True)
        assert (others.outlets, others.alert.state.sounds) == (("log", "aft"), False)
        assert told(again.until(35.0))[0] == "35 taken_back log+aft+fore 0"

    def test_what_was_answered_is_answered_and_its_end_reaches_all_who_were_called(
        self, desk: "Desk"
    ) -> None:
        desk.raise_("data_stale", Priority.ALARM)
        desk.until(20.0)
        desk.acknowledge()
        again = desk.restarted()
        assert states(again.management.resumed(again.now)) == []
        assert again.until(HOUR_S) == []
        assert told(again.raise_("data_stale", None)) == [f"{HOUR_S:g} changed log+aft+fore 1"]

    def test_a_notifier_that_is_no_longer_there_is_not_called(
        self, desk: "Desk", crew_settings: AlertSettings
    ) -> None:
        """The owner has changed the configuration between the two runs."""
        desk.raise_()
        desk.until(20.0)
        fewer = tuple(each for each in crew_settings.outlets if each.name != "fore")
        again = desk.restarted(settings=evolve(crew_settings, outlets=fewer))
        assert told(again.management.resumed(again.now)) == ["5 resumed log+aft 1"]

    def test_an_alert_of_which_nothing_is_known_is_called_for_from_the_beginning(
        self, make_desk: "type[Desk]", desk: "Desk"
    ) -> None:
        """A snapshot of an older version."""
        desk.raise_()
        again = make_desk(alerts=desk.management.alerts, at_s=5.0)
        assert told(again.management.resumed(again.now)) == ["5 first log+aft 0"]
        assert told(again.until(20.0))[0] == "20 escalated fore 1"

    def test_how_far_it_has_got_is_the_same_after_any_number_of_restarts(
        self, desk: "Desk"
    ) -> None:
        desk.raise_()
        desk.until(47.0)
        before = desk.management.pagings(desk.now_s)
        again = desk
        for _ in range(5):
            again = again.restarted()
        assert again.management.pagings(again.now_s) == before


@pytest.mark.parametrize("cut_s", [0.0, 10.0, 15.0, 50.0, 90.0, 150.0, 210.0])
def test_cut_at_any_time_the_calls_are_those_of_one_run_and_one_more(
    desk: "Desk", make_desk: "type[Desk]", cut_s: float
) -> None:
    """Nobody is called less than without the cut, and each at most once more."""
    one = make_desk()
    for each in (one, desk):
        each.raise_()
    one.until(400.0)
    desk.until(cut_s)
    again = desk.restarted()
    again.note(again.management.resumed(again.now))
    again.until(400.0 - cut_s + 5.0)
    both = [*desk.calls(), *again.calls()]
    for name in ("log", "aft", "fore", "saloon"):
        without = sum(name in call.outlets for call in one.calls())
        assert without <= sum(name in call.outlets for call in both) <= without + 1

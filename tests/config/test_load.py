"""From the text of a configuration to its values, or to every problem of it."""

import datetime as dt
import tomllib
from pathlib import Path

import pytest

from driftlead.alerts.alert import Priority
from driftlead.config.load import build_config, core_settings, load_config
from driftlead.config.model import ButtonSettings, Config, ControlSettings
from driftlead.core.settings import CoreSettings
from driftlead.errors import ConfigError
from driftlead.journal.settings import JournalSettings, RecordingSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.sources.settings import (
    LogSettings,
    SerialSettings,
    TcpSettings,
    UdpSettings,
)
from driftlead.watch.settings import (
    BoatSettings,
    DetectorSettings,
    LimitSettings,
    TackleSettings,
    WatchSettings,
)

GPS = '[[source]]\nname = "gps"\nkind = "serial"\ndevice = "/dev/ttyUSB0"\n'
FILE = Path("/etc/driftlead/boat.toml")


def build(text: str) -> Config:
    """Build the configuration that /etc/driftlead/boat.toml would give with this text."""
    return build_config(tomllib.loads(text), FILE)


def problems_of(text: str) -> tuple[str, ...]:
    """Every problem of a text, without the name of the file that begins each line."""
    with pytest.raises(ConfigError) as caught:
        build(text)
    start = f"{FILE}: "
    assert all(line.startswith(start) and line.isprintable() for line in caught.value.problems)
    return tuple(line.removeprefix(start) for line in caught.value.problems)


class TestValues:
    """What is written arrives in SI, and what is not written has its default."""

    def test_least_configuration_is_one_source_and_has_every_default(self) -> None:
        """The defaults of the daemon under systemd."""
        assert build(GPS) == Config(
            boat_name="",
            watch=WatchSettings(),
            sources=(SerialSettings(name="gps", device="/dev/ttyUSB0", baud=4800),),
            notifiers=(),
            buttons=(),
            journal=JournalSettings(path=Path("/var/lib/driftlead/journal.db")),
            recording=RecordingSettings(
                directory=Path("/var/lib/driftlead/nights"), cap_bytes=2_000_000_000
            ),
            control=ControlSettings(
                socket=Path("/run/driftlead/control.sock"), mode=0o660, group=None
            ),
            earliest_date=dt.date(2026, 1, 1),
            require_checksum=True,
        )

    def test_every_key_reaches_its_own_setting_in_si(self) -> None:
        """Each value differs from its default and from its neighbours."""
        config = build(
            """
            [boat]
            name = "Corvid"
            length = "32ft"
            bow_height = "1.2m"
            antenna_aft = "8.5 m"
            [tackle]
            rode_aboard = "2 shackles"
            rode_slack = 0.1
            [detector]
            dwell = "45s"
            floor = "10fm"
            floor_dwell = "9s"
            sigmas = 3
            fix_sigma = "3m"
            [limits]
            stale_warning = "31s"
            stale_alarm = "3.5min"
            lost_warning = "61s"
            lost_alarm = "6min"
            poor_caution = "62s"
            poor_warning = "11min"
            frozen_caution = "4min"
            frozen_warning = "16min"
            poor_hdop = 4.5
            rode_unknown = "7min"
            [[source]]
            name = "gps"
            kind = "serial"
            device = "/dev/ttyUSB0"
            baud = 38400
            [[source]]
            name = "wifi"
            kind = "udp"
            port = 2000
            bind = "192.168.4.1"
            group = "239.192.0.1"
            [[source]]
            name = "mux"
            kind = "tcp"
            host = "mux.local"
            port = 2001
            [[source]]
            name = "rehearsal"
            kind = "log"
            path = "nights/drag.log"
            pace = 10
            recorded_source = "bow"
            [[notifier]]
            kind = "sound"
            [[notifier]]
            kind = "sound"
            name = "cockpit"
            at_least = "alarm"
            device = "hw:1"
            [[button]]
            pin = 17
            command = "acknowledge"
            hold = "100ms"
            [[button]]
            pin = 27
            command = "weigh"
            [[button]]
            pin = 22
            command = "acknowledge"
            [journal]
            path = "journal.db"
            [recording]
            directory = "/media/stick/nights"
            cap = "500MB"
            part = "4MiB"
            [control]
            socket = "/tmp/driftlead.sock"
            mode = "0600"
            group = "crew"
            [time]
            earliest_date = 2026-11-01
            [nmea]
            require_checksum = false
            """
        )
        assert config == Config(
            boat_name="Corvid",
            watch=WatchSettings(
                boat=BoatSettings(length_m=9.7536, bow_height_m=1.2, antenna_aft_m=8.5),
                tackle=TackleSettings(rode_aboard_m=54.864, rode_slack=0.1),
                detector=DetectorSettings(
                    dwell_s=45.0, floor_m=18.288, floor_dwell_s=9.0, sigmas=3.0, fix_sigma_m=3.0
                ),
                limits=LimitSettings(
                    stale_warning_s=31.0,
                    stale_alarm_s=210.0,
                    lost_warning_s=61.0,
                    lost_alarm_s=360.0,
                    poor_caution_s=62.0,
                    poor_warning_s=660.0,
                    frozen_caution_s=240.0,
                    frozen_warning_s=960.0,
                    poor_hdop=4.5,
                    rode_unknown_s=420.0,
                ),
            ),
            sources=(
                SerialSettings(name="gps", device="/dev/ttyUSB0", baud=38400),
                UdpSettings(name="wifi", port=2000, bind="192.168.4.1", group="239.192.0.1"),
                TcpSettings(name="mux", host="mux.local", port=2001),
                LogSettings(
                    name="rehearsal",
                    path=Path("/etc/driftlead/nights/drag.log"),
                    pace=10.0,
                    recorded_source="bow",
                ),
            ),
            notifiers=(
                NotifierSettings(kind="sound", name="sound"),
                NotifierSettings(
                    kind="sound",
                    name="cockpit",
                    at_least=Priority.ALARM,
                    options={"device": "hw:1"},
                ),
            ),
            buttons=(
                ButtonSettings(pin=17, command="acknowledge", hold_s=0.1),
                ButtonSettings(pin=27, command="weigh", hold_s=2.0),
                ButtonSettings(pin=22, command="acknowledge", hold_s=0.0),
            ),
            journal=JournalSettings(path=Path("/etc/driftlead/journal.db")),
            recording=RecordingSettings(
                directory=Path("/media/stick/nights"),
                cap_bytes=500_000_000,
                part_bytes=4 * 2**20,
            ),
            control=ControlSettings(
                socket=Path("/tmp/driftlead.sock"),  # noqa: S108 - nothing is made there
                mode=0o600,
                group="crew",
            ),
            earliest_date=dt.date(2026, 11, 1),
            require_checksum=False,
        )

    def test_boat_measures_are_a_plain_value_without_the_name(self) -> None:
        """They are compared and recorded, and a boat's name decides nothing."""
        assert type(build(GPS + '[boat]\nname = "Corvid"').watch.boat) is BoatSettings

    def test_relative_paths_start_at_the_folder_of_the_file(self, tmp_path: Path) -> None:
        """Whatever folder the daemon was started in."""
        file = tmp_path / "boat.toml"
        file.write_text(GPS + '[journal]\npath = "here/journal.db"')
        assert load_config(file).journal.path == tmp_path / "here" / "journal.db"


# Each text is appended to a source that is right; each has exactly the one problem.
ONE_PROBLEM = [
    (
        "[boat]\nlength = 10",
        "[boat] length = 10: 10 has no unit. Write 30m, 100ft or 5fm, in double quotes.",
    ),
    (
        '[boat]\nlength = "10"',
        '[boat] length = "10": 10 has no unit. Write 30m, 100ft or 5fm.',
    ),
    (
        "[detector]\ndwell = 30",
        "[detector] dwell = 30: 30 has no unit. Write 30s, 5min or 2h, in double quotes.",
    ),
    (
        "[recording]\ncap = 2e9",
        "[recording] cap = 2000000000.0: 2000000000.0 has no unit. "
        "Write 2GB, 500MB or 8MiB, in double quotes.",
    ),
    (
        '[boat]\nlength = "-10m"',
        '[boat] length = "-10m": -10m is negative: a length is zero or more. '
        "Write 30m, 100ft or 5fm.",
    ),
    (
        "[boat]\nlength = true",
        "[boat] length = true: This is not a quantity. "
        'Write a number and its unit in double quotes, such as "100m".',
    ),
    (
        '[boat]\nbow_height = "30m"',
        '[boat] bow_height = "30m": 30m is out of range. Write something from 0m to 10m.',
    ),
    (
        '[boat]\nlength = "8m"\nantenna_aft = "9m"',
        '[boat] antenna_aft = "9m": The antenna would be farther aft than the boat is long. '
        "Correct it or [boat] length.",
    ),
    (
        '[boat]\nname = "Cor\\nvid"',
        '[boat] name = "Cor\\nvid": This has unprintable characters. Write plain text.',
    ),
    ("[boat]\nname = 7", "[boat] name = 7: This is not text. Put it in double quotes."),
    (
        '[boat]\nlenght = "10m"',
        '[boat] lenght = "10m": There is no such key here. Did you mean length?',
    ),
    (
        '[boat]\nrode_aboard = "60m"',
        '[boat] rode_aboard = "60m": There is no such key here. It belongs to [tackle].',
    ),
    (
        "[nmea]\nzzz = 1",
        "[nmea] zzz = 1: There is no such key here. Known here: require_checksum.",
    ),
    (
        "[boat]\nmast.height = 3",
        "[boat] mast = {...}: There is no such key here. "
        "Known here: name, length, bow_height, antenna_aft, beam, draught, hull, drag_area_m2.",
    ),
    (
        '[tackle]\nrode_slack = "8%"',
        '[tackle] rode_slack = "8%": This is not a number. '
        "Write a number from 0 to 0.5, without quotes.",
    ),
    (
        "[tackle]\nrode_slack = 8",
        "[tackle] rode_slack = 8: This is out of range. "
        "Write a number from 0 to 0.5, without quotes.",
    ),
    (
        "[detector]\nsigmas = nan",
        "[detector] sigmas = nan: This is out of range. "
        "Write a number from 0 to 6, without quotes.",
    ),
    (
        '[detector]\nfloor_dwell = "40s"',
        '[detector] floor_dwell = "40s": '
        "Far outside the circle would count later than just outside it. "
        "Make it no longer than dwell.",
    ),
    (
        '[detector]\ndwell = "5s"',
        "[detector] floor_dwell: "
        "Far outside the circle would count later than just outside it. "
        "Make it no longer than dwell.",
    ),
    (
        '[limits]\nstale_alarm = "20s"',
        '[limits] stale_alarm = "20s": This would come before stale_warning. '
        "Make it no shorter than stale_warning.",
    ),
    (
        '[limits]\nlost_warning = "6min"',
        "[limits] lost_alarm: This would come before lost_warning. "
        "Make it no shorter than lost_warning.",
    ),
    (
        '[limits]\npoor_warning = "50s"',
        '[limits] poor_warning = "50s": This would come before poor_caution. '
        "Make it no shorter than poor_caution.",
    ),
    (
        '[limits]\nfrozen_warning = "170s"',
        '[limits] frozen_warning = "170s": This would come before frozen_caution. '
        "Make it no shorter than frozen_caution.",
    ),
    (
        '[limits]\nstale_alarm = "5m"',
        '[limits] stale_alarm = "5m": The unit m in 5m may mean minutes or metres. '
        "Write min for minutes or s for seconds.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "serial"',
        '[[source]] #2 device: This key is missing. Add device = "/dev/ttyUSB0".',
    ),
    (
        '[[source]]\nname = "aft"\nkind = "serial"\ndevice = "ttyUSB0"',
        '[[source]] #2 device = "ttyUSB0": This is not the path of a device. '
        "Write the whole path; one in /dev/serial/by-id survives being plugged in anew.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "serial"\ndevice = "/dev/x"\nbaud = 4801',
        "[[source]] #2 baud = 4801: This is none of the choices. Write one of 1200, 2400, 4800, "
        "9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "serial"\ndevice = "/dev/x"\nbaud = true',
        "[[source]] #2 baud = true: This is none of the choices. Write one of 1200, 2400, 4800, "
        "9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "serial"\ndevice = "/dev/x"\nbaud = "9600"',
        '[[source]] #2 baud = "9600": This is text, not a number. Write it without quotes.',
    ),
    (
        '[[source]]\nkind = "udp"',
        '[[source]] #2 name: This key is missing. Add name = "gps".',
    ),
    (
        '[[source]]\nname = "aft rail"\nkind = "udp"',
        '[[source]] #2 name = "aft rail": This cannot be a name. '
        "Use up to 32 letters, digits, hyphens, underscores and points, and no spaces.",
    ),
    (
        '[[source]]\nname = "gps"\nkind = "udp"',
        '[[source]] #2 name = "gps": That is the one of [[source]] #1 too. Give each its own name.',
    ),
    (
        '[[source]]\nname = "aft"',
        '[[source]] #2 kind: This key is missing. Write one of "serial", "udp", "tcp", "log".',
    ),
    (
        '[[source]]\nname = "aft"\nkind = "upd"',
        '[[source]] #2 kind = "upd": There is no such kind of source. Did you mean udp?',
    ),
    (
        '[[source]]\nname = "aft"\nkind = ["udp"]',
        "[[source]] #2 kind = [...]: There is no such kind of source. "
        'Write one of "serial", "udp", "tcp", "log".',
    ),
    (
        '[[source]]\nname = "aft"\nkind = "udp"\nport = 70000',
        "[[source]] #2 port = 70000: This is out of range. "
        "Write a whole number from 1 to 65535, without quotes.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "udp"\nport = "10110"',
        '[[source]] #2 port = "10110": This is not a whole number. '
        "Write a whole number from 1 to 65535, without quotes.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "udp"\nbind = "boat"',
        '[[source]] #2 bind = "boat": This is not an IPv4 address. '
        'Write an address such as "0.0.0.0".',
    ),
    (
        '[[source]]\nname = "aft"\nkind = "udp"\ngroup = "192.168.0.1"',
        '[[source]] #2 group = "192.168.0.1": This is not a multicast address. '
        "Write one from 224.0.0.0 to 239.255.255.255, or leave the key out.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "udp"\nbaud = 4800',
        "[[source]] #2 baud = 4800: There is no such key here. "
        'It belongs to [[source]] with kind = "serial".',
    ),
    (
        '[[source]]\nname = "aft"\nkind = "tcp"\nhost = "mux:10110"',
        '[[source]] #2 host = "mux:10110": This is not a host. '
        "Write the name or address alone, without a port.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "log"\npath = "~/night.log"',
        '[[source]] #2 path = "~/night.log": The home folder of the daemon is not yours. '
        "Write the whole path.",
    ),
    (
        '[[source]]\nname = "aft"\nkind = "log"\npath = "night.log"\npace = -1',
        "[[source]] #2 pace = -1: This is out of range. "
        "Write a number from 0 to 10000, without quotes.",
    ),
    (
        '[[notifier]]\nat_least = "alarm"',
        '[[notifier]] #1 kind: This key is missing. Add kind = "sound".',
    ),
    (
        '[[notifier]]\nkind = "sound"\nat_least = "alram"',
        '[[notifier]] #1 at_least = "alram": This is none of the choices. Did you mean alarm?',
    ),
    (
        '[[notifier]]\nkind = "sound"\n[[notifier]]\nkind = "sound"',
        '[[notifier]] #2 name = "sound": That is the one of [[notifier]] #1 too. '
        "Give each its own name.",
    ),
    (
        '[[button]]\npin = 99\ncommand = "weigh"',
        "[[button]] #1 pin = 99: This is out of range. "
        "Write a whole number from 0 to 27, without quotes.",
    ),
    (
        '[[button]]\npin = 17\ncommand = "sail"',
        '[[button]] #1 command = "sail": This is none of the choices. '
        'Write one of "acknowledge", "silence", "let-go", "weigh".',
    ),
    (
        '[[button]]\npin = 17\ncommand = "let-go"\nhold = "0.5s"',
        '[[button]] #1 hold = "0.5s": A touch in passing would let go. Write "1s" or more.',
    ),
    (
        '[[button]]\npin = 17\ncommand = "weigh"\n[[button]]\npin = 17\ncommand = "acknowledge"',
        "[[button]] #2 pin = 17: That is the one of [[button]] #1 too. Give each its own pin.",
    ),
    (
        '[journal]\npath = ""',
        '[journal] path = "": This is empty. Write something or leave the key out.',
    ),
    (
        '[recording]\npart = "65MB"',
        '[recording] part = "65MB": 65MB is out of range. Write something from 64kB to 64MB.',
    ),
    (
        "[control]\nmode = 432",
        "[control] mode = 432: This is not a file mode. "
        'Write four octal digits in double quotes, such as "0660".',
    ),
    (
        '[control]\nmode = "0060"',
        '[control] mode = "0060": The daemon could not use its own socket. '
        'Begin with "06", such as "0660".',
    ),
    (
        "[time]\nearliest_date = 2026-01-01T00:00:00",
        "[time] earliest_date = 2026-01-01 00:00:00: This is not a date. "
        "Write a date between 2019-04-07 and 2038-11-21, without quotes.",
    ),
    (
        "[time]\nearliest_date = 2126-01-01",
        "[time] earliest_date = 2126-01-01: This is out of range. "
        "Write a date between 2019-04-07 and 2038-11-21, without quotes.",
    ),
    (
        '[nmea]\nrequire_checksum = "no"',
        '[nmea] require_checksum = "no": This is neither true nor false. Write it without quotes.',
    ),
    ("[bota]\nlength = 1", "[bota]: There is no such table. Did you mean boat?"),
    (
        '[" "]',
        '[" "]: There is no such table. Known here: boat, tackle, plan, detector, limits, journal, '
        "recording, control, web, watch_bill, escalation, alls_well, time, nmea, source, notifier, "
        "crew, button.",
    ),
    (
        '[[boat]]\nname = "Corvid"',
        "boat = [...]: This is one table, not a value or several. "
        "Write [boat] once, on a line of its own.",
    ),
    (
        "[notifier]",
        "notifier = {}: There may be several of these. "
        "Write [[notifier]] in double brackets, on a line of its own, before each.",
    ),
]


class TestProblems:
    """What is wrong is named with its table, key and value, and with what to do."""

    @pytest.mark.parametrize(("text", "problem"), ONE_PROBLEM)
    def test_each_fault_is_one_line_that_names_it_and_says_what_to_do(
        self, text: str, problem: str
    ) -> None:
        """Word for word, for people read these at the dock."""
        assert problems_of(GPS + text) == (problem,)

    @pytest.mark.parametrize("text", ["", "source = []"])
    def test_no_source_at_all_is_a_problem(self, text: str) -> None:
        """Without one there is nothing to watch by."""
        assert problems_of(text) == (
            "[[source]]: There is none, so nothing can be watched. "
            'Add [[source]] with name = "gps", kind = "serial" and its device.',
        )

    def test_source_in_single_brackets_is_told_to_double_them(self) -> None:
        """The commonest slip of those who do not know TOML; there is not also no source."""
        assert problems_of(GPS.replace("[[source]]", "[source]")) == (
            "source = {...}: There may be several of these. "
            "Write [[source]] in double brackets, on a line of its own, before each.",
        )

    def test_key_outside_any_table_is_sent_to_its_table(self) -> None:
        """Keys above the first table belong to none."""
        assert problems_of('rode_aboard = "60m"\n' + GPS) == (
            'rode_aboard = "60m": This stands outside any table. It belongs to [tackle].',
        )

    def test_refusal_of_the_settings_themselves_is_told_too(self) -> None:
        """What only the source can judge, such as a name no resolver takes."""
        text = '[[source]]\nname = "mux"\nkind = "tcp"\nhost = "a..b"\n'
        (problem,) = problems_of(text)
        assert problem.startswith("[[source]] #1: ")
        assert "a..b" in problem

    def test_every_problem_of_a_file_is_reported_at_once(self) -> None:
        """One start, one list: nobody has to start the daemon eight times."""
        found = problems_of(
            """
            rode = "60m"
            [boat]
            length = 10
            bow_hieght = "1m"
            [limits]
            stale_alarm = "10s"
            lost_alarm = "20s"
            [[source]]
            name = "gps"
            kind = "serial"
            baud = 1
            [[source]]
            name = "gps"
            kind = "radio"
            [[button]]
            pin = 40
            [hands]
            """
        )
        places = [problem.split(":")[0] for problem in found]
        assert places == [
            'rode = "60m"',
            "[hands]",
            "[boat] length = 10",
            '[boat] bow_hieght = "1m"',
            '[limits] stale_alarm = "10s"',
            '[limits] lost_alarm = "20s"',
            "[[source]] #1 device",
            "[[source]] #1 baud = 1",
            '[[source]] #2 kind = "radio"',
            "[[button]] #1 pin = 40",
            "[[button]] #1 command",
            '[[source]] #2 name = "gps"',
        ]

    def test_message_names_the_file_and_counts_the_problems(self) -> None:
        """The error's own text is the headline above the list."""
        with pytest.raises(ConfigError) as caught:
            build("")
        assert str(caught.value) == f"{FILE} has 1 problem. Correct the file."
        with pytest.raises(ConfigError) as caught:
            build("[a]\n[b]")
        assert str(caught.value) == f"{FILE} has 3 problems. Correct the file."

    def test_long_values_and_keys_are_cut_short(self) -> None:
        """A line stays a line that can be read."""
        (problem,) = problems_of(GPS + f'[boat]\n{"k" * 500} = "{"v" * 500}"')
        assert len(problem) < 300

    def test_number_beyond_what_python_will_write_in_decimal_is_refused(self) -> None:
        """TOML's hexadecimal numbers may have any length."""
        (problem,) = problems_of(GPS + f"[tackle]\nrode_slack = 0x{'f' * 5000}")
        assert "This is out of range" in problem


def test_core_settings_hold_what_decisions_depend_on() -> None:
    """The sources in their order of trust, the watch, the date and the checksum rule."""
    watch = WatchSettings(boat=BoatSettings(length_m=12.0))
    config = Config(
        boat_name="Corvid",
        watch=watch,
        sources=(UdpSettings(name="wifi"), SerialSettings(name="gps", device="/dev/ttyUSB0")),
        journal=JournalSettings(path=Path("journal.db")),
        recording=RecordingSettings(directory=Path("nights"), cap_bytes=10**9),
        earliest_date=dt.date(2026, 11, 1),
        require_checksum=False,
    )
    assert core_settings(config) == CoreSettings(
        watch=watch,
        source_order=("wifi", "gps"),
        earliest_date=dt.date(2026, 11, 1),
        require_checksum=False,
    )

"""Files that cannot be read, or are not TOML."""

from pathlib import Path

import pytest

from driftlead.config.load import load_config
from driftlead.errors import ConfigError


def refusal(file: Path) -> ConfigError:
    """Load a file that cannot be loaded."""
    with pytest.raises(ConfigError) as caught:
        load_config(file)
    assert caught.value.problems == (str(caught.value),)
    return caught.value


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where a test writes its configuration."""
    return tmp_path / "boat.toml"


class TestUnreadable:
    """Each says which file and what to do."""

    def test_missing_file_is_answered_with_the_example_to_copy(self, file: Path) -> None:
        """The first thing a new owner meets."""
        assert str(refusal(file)) == (
            f"{file}: There is no such file. "
            "Copy systemd/driftlead.example.toml there and fit it to the boat."
        )

    def test_folder_is_not_a_file(self, tmp_path: Path) -> None:
        """The reason is the system's own."""
        assert "cannot be read: Is a directory" in refusal(tmp_path).message

    def test_path_with_a_null_character_is_no_path(self) -> None:
        """Python answers this with a ValueError, the person gets a sentence."""
        assert "This is no path" in refusal(Path("a\0b")).message

    def test_other_encodings_are_named_by_the_first_byte_that_is_not_utf8(self, file: Path) -> None:
        """Byte 9 is the latin-1 letter."""
        file.write_bytes('name = "\xe9"'.encode("latin-1"))
        assert refusal(file).message == f"{file}: Byte 9 is not UTF-8 text."


class TestSyntax:
    """A slip in the TOML is told with its line and column."""

    @pytest.mark.parametrize(
        ("line", "column"),
        [
            ("length = 10m", 12),
            ("mode = 0660", 9),
            ("name = Corvid", 8),
        ],
    )
    def test_value_without_quotes_is_told_where_and_to_be_quoted(
        self, file: Path, line: str, column: int
    ) -> None:
        """The commonest slip of all, for quantities are text in TOML."""
        file.write_text(f"# Corvid\n[boat]\n{line}\n")
        error = refusal(file)
        assert f"(at line 3, column {column})" in error.message
        assert error.remedy == (
            'Put quantities and words in double quotes, such as length = "10m".'
        )

    @pytest.mark.parametrize(
        ("line", "key"), [("length = 10", "length"), ('  "name" = "Corvid"', '"name"')]
    )
    def test_key_written_twice_is_named(self, file: Path, line: str, key: str) -> None:
        """That the value has no quotes is not what is wrong."""
        file.write_text(f"[boat]\n{line}\n{line}\n")
        error = refusal(file)
        assert "(at line 3, column" in error.message
        assert error.remedy == f"{key} is written twice: leave one of the two out."

    def test_table_written_twice_is_told_where(self, file: Path) -> None:
        """The line of the second one."""
        file.write_text('[boat]\nname = "Corvid"\n[boat]\n')
        error = refusal(file)
        assert "(at line 3, column" in error.message
        assert error.remedy == "Correct the file there."

    def test_text_that_ends_too_early_is_told_so(self, file: Path) -> None:
        """There is no line to point at."""
        file.write_text("[boat")
        assert "at end of document" in refusal(file).message

    @pytest.mark.parametrize("text", ["a = " + "[" * 100_000, "a = " + "9" * 5000])
    def test_text_that_breaks_the_parser_is_no_configuration(self, file: Path, text: str) -> None:
        """Nesting and numbers beyond what Python's parser will take."""
        file.write_text(text)
        assert str(file) in refusal(file).message

    def test_byte_order_mark_and_windows_line_ends_do_no_harm(self, file: Path) -> None:
        """Some editors write them unasked."""
        lines = ["[[source]]", 'name = "gps"', 'kind = "udp"', "[boat]", 'name = "Corvid"', ""]
        file.write_bytes("\r\n".join(lines).encode("utf-8-sig"))
        assert load_config(file).boat_name == "Corvid"

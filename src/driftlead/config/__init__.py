"""The one TOML file that describes the boat and her equipment."""

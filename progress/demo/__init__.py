"""The demo studio: an invented house with stories to find, told by fixtures/demo.json."""

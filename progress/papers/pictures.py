"""A drawing as a picture in a page: the printer lays that out much faster than a drawing inside the text."""
from base64 import b64encode

from progress.drawing import charts
from progress.drawing.parts import Chart
from studio.voice import Voice


def data_uri(drawing: str) -> str:
    """A whole SVG document as an address that carries it (RFC 2397)."""
    return f"data:image/svg+xml;base64,{b64encode(drawing.encode()).decode()}"


def picture(chart: Chart, size: str, voice: Voice) -> str:
    """A chart as a data URI."""
    return data_uri(charts.svg(chart, size=size, voice=voice))

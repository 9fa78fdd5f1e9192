from fdm.output.drawing.section import draw_parts
from fdm.output.drawing.sheet import Sheet


def test_legend_names_everything_drawn(wall, tmp_path, monkeypatch):
    sheets = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: sheets.append(self))
    draw_parts(wall.section, tmp_path / "x.png")
    text = " ".join(t.get_text() for t in sheets[0].axes.get_legend().get_texts()).replace("\xa0", " ")
    for said in (
        "metal: x 200, y 150 W/(m K)",
        "foam: 0.03 W/(m K)",
        "plate, block",
        "hole",
        "film 8 W/(m² K)",
        "heat",
        "sensor",
    ):
        assert said in text

"""A maker's own tables over the catalogue: added, shadowing visibly, checked by the same rules, all faults at once."""

from datetime import date
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue, CatalogueFaults, open_workshop
from fizzwright.catalogue.describe import describe

SOAPWORT = "id,name,function,bulk_density_loose_g_ml_typ,source,how\nsoapwort,soapwort root,botanical,0.3,,estimate\n"


def write(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        path = folder / (name.replace("__", "/") + (".toml" if name == "workshop" else ".csv"))
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def faults_of(folder: Path) -> list[str]:
    with pytest.raises(CatalogueFaults) as refused:
        open_workshop(folder)
    return [str(fault) for fault in refused.value.faults]


def test_an_empty_folder_is_a_workshop_with_the_catalogue_as_it_is(tmp_path: Path, catalogue: Catalogue) -> None:
    opened, workshop = open_workshop(tmp_path)
    assert opened.materials == catalogue.materials
    assert workshop.name == tmp_path.name
    assert (workshop.currency, workshop.currency_digits) == ("XXX", 2)
    assert workshop.rates is None and workshop.prices == () and workshop.wraps == ()


def test_no_folder_is_refused(tmp_path: Path) -> None:
    assert "no such folder" in faults_of(tmp_path / "nowhere")[0]


def test_an_addition_can_be_used_and_says_where_it_comes_from(tmp_path: Path, catalogue: Catalogue) -> None:
    opened, _ = open_workshop(write(tmp_path, materials=SOAPWORT))
    added = opened.usable("soapwort")
    assert added is not None and added.origin == "materials.csv"
    assert catalogue.usable("soapwort") is None
    assert [row.value_text for row in describe(added, opened) if row.label == "Comes from"] == [
        "your workshop, materials.csv"
    ]
    assert [hit.entry.id for hit in opened.search("soapwort", 1)] == ["soapwort"]


def test_a_shadowing_row_replaces_the_whole_entry_visibly(tmp_path: Path, catalogue: Catalogue) -> None:
    text = "id,name,function,molar_mass_g_mol,base_equivalents_per_mol,carbonate_per_mol,bulk_density_loose_g_ml_typ\n"
    opened, _ = open_workshop(
        write(tmp_path, materials=text + "sodium_bicarbonate,our fine bicarbonate,base,84.007,1,1,0.8\n")
    )
    own = opened.materials["sodium_bicarbonate"]
    assert own.origin == "materials.csv"
    assert own.bulk_density_loose_g_ml_typ == 0.8
    assert own.true_density_g_ml is None
    assert catalogue.materials["sodium_bicarbonate"].origin == "catalogue"
    assert opened.materials["citric_acid"].origin == "catalogue"


def test_own_constituents_replace_those_of_an_oil(tmp_path: Path) -> None:
    text = (
        "oil_id,constituent,cas,min_pct,typical_pct,max_pct,source,how,note,typical_source,typical_how,relevance\n"
        "lavender,linalool,78-70-6,40,41,42,,read,,,read,limit\n"
        "lavender,linalyl acetate,115-95-7,38,39,40,,read,,,read,limit\n"
    )
    opened, _ = open_workshop(write(tmp_path, oil_constituents=text))
    assert opened.oils["lavender"].origin == "oil_constituents.csv"
    assert [part.typical_pct for part in opened.oils["lavender"].constituents] == [41.0, 39.0]


def test_own_moulds(tmp_path: Path) -> None:
    text = "id,name,shape,diameter_mm,halves\nour_globe,our globe,sphere,58,yes\n"
    opened, _ = open_workshop(write(tmp_path, moulds=text))
    assert opened.moulds["our_globe"].dims_mm == {"diameter_mm": 58.0}
    assert opened.moulds["our_globe"].halves
    assert opened.moulds["sphere_65"].origin == "catalogue"


def test_prices_rates_and_wraps(tmp_path: Path) -> None:
    prices = (
        "use,supplier,pack,pack_unit,price_minor,lot,on_hand_g,bought\n"
        "citric_acid,Saltmarket Dry Goods,5,kg,2380,,2210,2026-09-07\n"
        "citric_acid,Saltmarket Dry Goods,5,kg,2500,,,2026-10-07\n"
        "lavender,Greenbank Oils,100,ml,1850,LA-2610-01,64.5,2026-10-01\n"
    )
    toml = (
        'name = "Net store"\ncurrency = "JPY"\nscale_step_g = 0.1\nspoons = ["1 cup", "tsp"]\n[rates]\nlabour_minor_per_hour = 1300\n'
        'loss_pct = 4\n[[wrap]]\nname = "Film"\nprice_minor = 4.5\n'
    )
    _, workshop = open_workshop(write(tmp_path, prices=prices, workshop=toml))
    assert (workshop.currency, workshop.currency_digits, workshop.scale_step_g) == ("JPY", 0, 0.1)
    assert workshop.spoons == ("1 cup", "tsp")
    assert workshop.rates is not None and workshop.rates.labour_minor_per_hour == 1300
    assert [(wrap.name, wrap.price_minor, wrap.per) for wrap in workshop.wraps] == [("Film", 4.5, "piece")]
    newest = workshop.price_of("citric_acid")
    assert newest is not None and newest.price_minor == 2500
    lot = workshop.price_of("lavender", "LA-2610-01")
    assert lot is not None and lot.on_hand_g == 64.5 and lot.bought == date(2026, 10, 1)


def test_a_lot_s_own_analysis(tmp_path: Path) -> None:
    text = "lot,oil_id,constituent,pct\nLA-2610-01,lavender,linalool,41.2\nLA-2610-01,lavender,Citral,0.1\n"
    opened, workshop = open_workshop(write(tmp_path, **{"lots__LA-2610-01": text}))
    linalool, citral = workshop.lot_analyses["LA-2610-01"].shares
    assert (linalool.min_pct, linalool.typical_pct, linalool.max_pct) == (41.2, 41.2, 41.2)
    assert (linalool.relevance, linalool.how) == ("limit", "read")
    assert citral.constituent == "citral"
    assert all(source in opened.sources for source in linalool.sources)


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    faults = faults_of(
        write(
            tmp_path,
            materials="id,name,function,cas,flash_point_c\nOat Flour,oats,filler,144-55-9,warm\n",
            moulds="id,name,shape,diameter_mm\nglobe,globe,sphere,-5\nlavender_cup,cup,cup,50\n",
            oils="id,name,phototoxic\nmystery,mystery oil,no\n",
            oil_constituents="oil_id,constituent\nnothing,linalool\n",
            prices="use,supplier,pack,pack_unit,price_minor\ncitric_acidd,A,5,stone,12.5\ncitric_acid,A,nan,kg,1e12\n",
            workshop='currency = "pounds"\nscale_step_g = true\nspoons = ["1 cup", 2]\nnmae = "x"\n[rates]\nmargin_pct = 120\n',
            lots__a="lot,oil_id,constituent,pct\nL1,lavendar,linalol,400\n,lavender,linalool,-1\n",
        )
    )
    text = "\n".join(faults)
    for said in (
        "materials.csv, Oat Flour, flash_point_c: read 'warm'",
        "moulds.csv, globe, diameter_mm: read '-5.0'",
        "moulds.csv, lavender_cup, shape: read 'cup'",
        "mystery, constituent",
        "oil_constituents.csv, nothing, oil_id: read 'nothing'",
        "use: read 'citric_acidd'; an id of the catalogue; nearest: citric_acid",
        "pack_unit: read 'stone'",
        "price_minor: read '12.5'",
        "pack: read 'nan'",
        "price_minor: read '1e12'",
        "currency: read 'pounds'",
        "scale_step_g: read 'True'",
        "spoons: read \"['1 cup', 2]\"; a list of measures",
        "nmae: read 'x'; no such key",
        "rates.margin_pct: read '120'",
        "oil_id: read 'lavendar'; an oil's id; nearest: lavender",
        "constituent: read 'linalol'",
        "pct: read '400'",
        "pct: read '-1'",
        "lot: read ''",
    ):
        assert said in text, text


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"materials": "name\nx\n"}, "no column id"),
        ({"materials": ""}, "no column id, name"),
        ({"materials": "id,name,colour\nx,y,z\n"}, "no such column"),
        ({"materials": "id,name,function\nx,,filler\n"}, "an id and a name in every row"),
        ({"materials": "id,name,function\nlavender,my lavender,filler\n"}, "has a material of that id already"),
        ({"moulds": "id,name,shape\nx,y\n"}, "2 cells"),
        ({"moulds": "id,name,shape,tube_mm,diameter_mm\nx,y,sphere,5,60\n"}, "a sphere has no such measure"),
        ({"sources": "id\nx\n"}, "no column citation, url, note"),
        ({"prices": "use,pack\nx,1\n"}, "no column supplier, pack_unit, price_minor"),
        ({"prices": "use,supplier,pack,pack_unit,price_minor,bought\nlavender,A,5,g,10,Tuesday\n"}, "a date such as"),
        ({"workshop": "name = \n"}, "TOML text"),
        ({"workshop": 'currency = "GBP"\nrates = 5\n'}, "a table [rates]"),
        ({"workshop": 'currency = "GBP"\nwrap = 5\n'}, "tables [[wrap]]"),
        ({"workshop": 'currency = "GBP"\n[[wrap]]\nname = "x"\nper = "dozen"\n'}, "piece or batch"),
        ({"lots__a": "lot,oil_id,constituent\nL,lavender,linalool\n"}, "no column pct"),
        ({"lots__a": "lot,oil_id,constituent,pct\nL,lavender,linalool,60\nL,lavender,camphor,60\n"}, "at most 105 %"),
        (
            {"lots__a": "lot,oil_id,constituent,pct\nL,lavender,linalool,6\nL,tea_tree,linalool,6\n"},
            "a lot is of one oil",
        ),
        ({"lots__a": "lot,oil_id,constituent,pct\nL,lavender,linalool,6\nL,lavender,linalool,7\n"}, "once a lot"),
        ({"lots__a": "lot,oil_id,constituent,pct\nL,lavender,linalool,0.31\n"}, "percent, not fractions of one"),
        ({"prices": "use,supplier,pack,pack_unit,price_minor\nlavender,A,5,g,10\n"}, "such as GBP, USD or EUR"),
    ],
)
def test_one_thing_wrong(tmp_path: Path, files: dict[str, str], said: str) -> None:
    (fault,) = faults_of(write(tmp_path, **files))
    assert said in fault


def test_text_that_is_not_utf_8(tmp_path: Path) -> None:
    (tmp_path / "materials.csv").write_bytes(b"id,name\nx,caf\xe9\n")
    (fault,) = faults_of(tmp_path)
    assert "UTF-8" in fault


def test_windows_line_ends_byte_order_mark_and_blank_lines(tmp_path: Path) -> None:
    text = SOAPWORT.replace("\n", "\r\n")
    (tmp_path / "materials.csv").write_bytes(b"\xef\xbb\xbf" + text.encode() + b"\r\n,,,,,\r\n")
    opened, _ = open_workshop(tmp_path)
    assert "soapwort" in opened.materials


def test_the_demo_workshop_opens(quillmoor: Path) -> None:
    _, workshop = open_workshop(quillmoor)
    assert workshop.currency == "GBP"
    assert len(workshop.prices) > 10
    assert workshop.lot_analyses


CLAY = "id,name,function,bulk_density_loose_g_ml_typ,source,how\nslate_clay,slate clay,filler,0.5,,estimate\n"


def test_a_colour_of_the_makers_own_says_how_it_takes_light(tmp_path: Path, catalogue: Catalogue) -> None:
    dyes = "id,name,kind,shape,scatters_m2_g,source,how\nslate_clay,slate clay,cloud,none,0.05,,estimate\n"
    opened, _ = open_workshop(write(tmp_path, materials=CLAY, dyes=dyes))
    assert opened.dyes["slate_clay"].scatters_m2_g == 0.05
    assert opened.dyes["slate_clay"].origin == "dyes.csv"
    assert opened.dyes["fdc_blue_1"] == catalogue.dyes["fdc_blue_1"]
    told = {row.label: row.value_text for row in describe(opened.materials["slate_clay"], opened)}
    assert told["In the bath it acts as"] == "cloud"


def test_faults_in_a_colour_of_the_makers_own_are_told(tmp_path: Path) -> None:
    dyes = "id,name,kind,shape,dissolves_pct\nslate_clay,slate clay,dye,band,100\nno_such_clay,clay,cloud,none,\n"
    told = "\n".join(faults_of(write(tmp_path, materials=CLAY, dyes=dyes)))
    for column in ("peak_nm", "short_nm", "long_nm", "e1pct_1cm"):
        assert f"dyes.csv, slate_clay, {column}" in told
    assert "dyes.csv, no_such_clay, id" in told


def test_the_room_a_maker_works_in(tmp_path: Path) -> None:
    text = '[room]\nvolume_m3 = 28\nusual_c = 19\nusual_humidity_pct = 58\naltitude_m = 1500\ntime_zone = "Europe/London"\n'
    room = open_workshop(write(tmp_path, workshop=text))[1].room
    assert room is not None
    assert (room.volume_m3, room.usual_c, room.usual_humidity_pct, room.time_zone) == (28, 19, 58, "Europe/London")
    assert room.air_changes_open > room.air_changes_shut
    # ICAO standard atmosphere at 1500 m: 845.6 hPa
    assert room.pressure_pa == pytest.approx(84_556, rel=2e-4)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("usual_humidity_pct = 120", "room.usual_humidity_pct: read '120'; a number from 0 to 100"),
        ("usual_c = 68", "room.usual_c: read '68'"),
        ('time_zone = "Quillmoor/Quay"', "room.time_zone: read 'Quillmoor/Quay'"),
        ('time_zone = "../../etc/passwd"', "room.time_zone"),
        ("air_changes_open = 0.2", "at least as much as air_changes_shut"),
        ("volume = 28", "room.volume: read '28'; no such key"),
    ],
)
def test_a_room_nobody_can_have_is_told(tmp_path: Path, line: str, said: str) -> None:
    assert any(said in fault for fault in faults_of(write(tmp_path, workshop=f"[room]\n{line}\n")))

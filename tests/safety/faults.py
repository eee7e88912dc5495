"""One-line faults to plant in the program: file, what stands there, what is put instead."""

FAULTS: tuple[tuple[str, str, str], ...] = (
    # dose: filling barrels
    (
        "dose/fills.py",
        "lines = volume.value / barrel.step.value",
        "lines = Fraction(round(volume.value * 2 / barrel.step.value))",
    ),
    (
        "dose/fills.py",
        "even, extra = divmod(lines.numerator, fills)",
        "even, extra = divmod(lines.numerator - 1, fills)",
    ),
    ("dose/fills.py", "even, extra = divmod(lines.numerator, fills)", "even, extra = lines.numerator // fills + 1, 0"),
    ("dose/fills.py", "fills = -(-lines.numerator // most)", "fills = lines.numerator // most + 2"),
    (
        "dose/fills.py",
        "return Split(barrel, fills, smaller=barrel.step * even",
        "return Split(barrel, 1, smaller=barrel.step * even",
    ),
    ("dose/fills.py", "smaller=barrel.step * even, larger", "smaller=barrel.step * (even - 1), larger"),
    ("dose/fills.py", "(self.smaller,) * (self.fills - self.extra)", "(self.smaller,) * (self.fills - self.extra + 1)"),
    # dose: mixing and drawing
    ("dose/mix.py", "content * (1 / diluent.value)", "content * diluent.value"),
    ("dose/mix.py", "content * (1 / diluent.value)", "content * (1 / (diluent.value + 1))"),
    ("dose/mix.py", "content * (1 / diluent.value)", "content * 2"),
    ("dose/draw.py", "volume = vial.concentration.volume_of(dose)", "volume = vial.concentration.volume_of(dose * 2)"),
    (
        "dose/draw.py",
        "volume = vial.concentration.volume_of(dose)",
        "volume = vial.concentration.volume_of(dose * Fraction(1, 2))",
    ),
    (
        "dose/draw.py",
        "volume = vial.concentration.volume_of(dose)",
        "volume = vial.concentration.volume_of(dose) * Fraction(1, 10)",
    ),
    (
        "dose/draw.py",
        "volume = vial.concentration.volume_of(dose)",
        "volume = Volume(vial.concentration.per_ml.value / dose.value)",
    ),
    (
        "dose/draw.py",
        "fills = (Fill(How.SYRINGE, source.product, source.holds),) * int(count)",
        "fills = (Fill(How.SYRINGE, source.product, source.holds),) * (int(count) + 1)",
    ),
    (
        "dose/draw.py",
        "fills = (Fill(How.SYRINGE, source.product, source.holds),) * int(count)",
        "fills = (Fill(How.SYRINGE, source.product, source.holds),)",
    ),
    ("dose/draw.py", "sprays=int(count)", "sprays=int(count) * 2"),
    ("dose/draw.py", "sprays=int(count)", "sprays=1"),
    ("dose/draw.py", "needed = _vials_needed(dose, vial)", "needed = vials = _vials_needed(dose, vial) + 1"),
    (
        "dose/draw.py",
        "return _whole_vials(dose, vial, volume, vials, barrels_at_hand)",
        "return _whole_vials(dose, vial, volume, vials + 1, barrels_at_hand)",
    ),
    (
        "dose/draw.py",
        "if vial.content is not None and divide(dose, vial.content).denominator == 1:",
        "if vial.content is not None:",
    ),
    (
        "dose/draw.py",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in way.volumes)",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part * 2)) for part in way.volumes)",
    ),
    (
        "dose/draw.py",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in way.volumes)",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(way.barrel.step)) for part in way.volumes)",
    ),
    (
        "dose/draw.py",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in way.volumes)",
        "fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in way.volumes[:1])",
    ),
    (
        "dose/draw.py",
        "[found for barrel in barrels_at_hand if (found := split(volume, barrel))]",
        "[found for barrel in barrels_at_hand if (found := split(barrel.neighbours(volume)[1], barrel))]",
    ),
    # devices and quantities
    ("formulary/devices.py", "_U100_MARKS_PER_ML = 100", "_U100_MARKS_PER_ML = 40"),
    ("formulary/devices.py", "_U100_MARKS_PER_ML = 100", "_U100_MARKS_PER_ML = 50"),
    (
        "formulary/devices.py",
        "return Mark(volume.value * (_U100_MARKS_PER_ML if self.on_u100 else 1))",
        "return Mark(volume.value * (1 if self.on_u100 else _U100_MARKS_PER_ML))",
    ),
    ("quantity/amounts.py", "return Volume(divide(dose, self.per_ml))", "return Volume(divide(self.per_ml, dose))"),
    (
        "quantity/amounts.py",
        "return Volume(divide(dose, self.per_ml))",
        "return Volume(divide(dose, self.per_ml) + Fraction(1, 10))",
    ),
    ("quantity/amounts.py", "return part.value / whole.value", "return part.value / whole.value * 2"),
    ("quantity/reading.py", 'return Mass(value * 1000, "mg")', 'return Mass(value * 100, "mg")'),
    ("quantity/reading.py", 'return Mass(value * 1000, "mg")', 'return Mass(value, "mg")'),
    (
        "quantity/numbers.py",
        'whole, part = match["whole"].replace(",", ""), match["part"] or ""',
        'whole, part = match["whole"].partition(",")[0], match["part"] or ""',
    ),
    ("quantity/numbers.py", 'return f"{whole:,}.{decimals}" if decimals else f"{whole:,}"', 'return f"{whole:,}"'),
    (
        "quantity/numbers.py",
        'decimals = f"{part:0{places}d}".rstrip("0") if places else ""',
        'decimals = f"{part}".rstrip("0") if places else ""',
    ),
    (
        "quantity/numbers.py",
        "scaled = (value * 10**places * 2 + 1) // 2",
        "scaled = (value * 10**places * 2 + 1) // 2 + 1",
    ),
    # clock
    ("clock/moment.py", "return self.after(Span(-lead.minutes))", "return self.after(Span(-lead.minutes + 1))"),
    ("clock/moment.py", "return self.after(Span(-lead.minutes))", "return self.after(Span(-lead.minutes + 60))"),
    ("clock/moment.py", "return self.after(Span(-lead.minutes))", "return self.after(lead)"),
    (
        "clock/moment.py",
        "return replace(self, at=self.at + TimeDelta(minutes=span.minutes))",
        "return replace(self, at=self.at + TimeDelta(minutes=span.minutes - 1))",
    ),
    (
        "clock/moment.py",
        "return replace(self, at=self.at + TimeDelta(minutes=span.minutes))",
        "return replace(self, at=self.at.to_plain().add(TimeDelta(minutes=span.minutes), naive_arithmetic_ok=True).assume_tz(self.zone.name, disambiguation='compatible'))",
    ),
    (
        "clock/moment.py",
        "return Moment(self.at.to_tz(zone.name), zone)",
        "return Moment(self.at.to_plain().assume_tz(zone.name, disambiguation='compatible'), zone)",
    ),
    (
        "clock/moment.py",
        "return Moment(self.at.to_tz(zone.name), zone)",
        "return Moment(self.at.to_tz('Asia/Tokyo'), zone)",
    ),
    (
        "clock/moment.py",
        'return "first" if earlier.offset == self.at.offset else "second"',
        'return "second" if earlier.offset == self.at.offset else "first"',
    ),
    ("clock/moment.py", "if not self.at.is_repeated():", "if True:"),
    ("clock/span.py", "total = hours * 60 + minutes", "total = hours * 60 + minutes * 2 + 1"),
    ("clock/span.py", "total = hours * 60 + minutes", "total = hours * 61 + minutes"),
    ("clock/words.py", "yesterday = wall - dt.timedelta(days=1)", "yesterday = wall + dt.timedelta(days=1)"),
    ("clock/words.py", "evening = wall if wall.hour >= EVENING else wall - dt.timedelta(days=1)", "evening = wall"),
    ("clock/words.py", "{wall:%M} {'am' if wall.hour < 12 else 'pm'}", "{wall:%M} {'am' if wall.hour < 22 else 'pm'}"),
    ("clock/words.py", "(wall.hour - 1) % 12 + 1", "wall.hour % 12 + 1"),
    (
        "clock/words.py",
        'return f"{wall:%A} {wall.day} {wall:%B %Y}"',
        'return f"{wall:%A} {wall.day + 1} {wall:%B %Y}"',
    ),
    ("clock/words.py", 'f"{_clock(wall)} ({wall:%H:%M})"', 'f"{_clock(wall)} ({wall:%I:%M})"'),
    # plan
    (
        "plan/timing.py",
        "answer = Timed(slot_at.before(lead).seen_in(case.zone), slot_at.before(lead), lead)",
        "answer = Timed(slot_at.before(lead), slot_at.before(lead), lead)",
    ),
    (
        "plan/timing.py",
        "answer = Timed(slot_at.before(lead).seen_in(case.zone), slot_at.before(lead), lead)",
        "answer = Timed(slot_at.before(lead + lead).seen_in(case.zone), slot_at.before(lead), lead)",
    ),
    ("plan/timing.py", "patient = timed[first].patient.after(gap)", "patient = timed[first].patient.before(gap)"),
    ("plan/timing.py", "patient = timed[first].patient.after(gap)", "patient = timed[first].patient"),
    ("plan/case.py", "vial = mix(content, chosen)", "vial = mix(content, chosen + chosen)"),
    ("plan/case.py", "vial = mix(content, chosen)", "vial = mix(content, rule.volumes[0])"),
    ("plan/case.py", "vial = mix(content, chosen)", "vial = mix(content * 2, chosen)"),
    (
        "plan/case.py",
        "vials = math.ceil(divide(injection.dose, content))",
        "vials = math.ceil(divide(injection.dose, content)) + 1",
    ),
    (
        "plan/case.py",
        "by_rule = [mixing.diluent for mixing in signed if mixing.chosen]",
        "by_rule = [mixing.diluent + mixing.diluent for mixing in signed if mixing.chosen]",
    ),
    (
        "plan/case.py",
        "            injection.dose,\n            source,\n            barrels_at_hand,",
        "            injection.dose * 2,\n            source,\n            barrels_at_hand,",
    ),
    (
        "plan/case.py",
        "return _Prepared(box, rule, chosen, by, vials, vial, drawn, table, tuple(findings))",
        "return _Prepared(box, rule, chosen + chosen, by, vials, vial, drawn, table, tuple(findings))",
    ),
    # the printed words
    ("exchange/draft.py", 'yield f"Water: {one.diluent} of', 'yield f"Water: {one.diluent + one.diluent} of'),
    (
        "exchange/draft.py",
        'return f"mark {fill.mark} ({fill.volume})" if barrel.on_u100',
        'return f"mark {fill.volume} ({fill.volume})" if barrel.on_u100',
    ),
    ("exchange/draft.py", 'yield f"When: {said(one.timed.patient)}"', 'yield f"When: {said(one.timed.clinic)}"'),
    ("exchange/draft.py", 'yield f"Sprays: {fill.sprays}"', 'yield f"Sprays: {fill.sprays + 1}"'),
    ("exchange/draft.py", 'yield f"Vials: {vials}"', 'yield f"Vials: {vials * 2}"'),
    (
        "exchange/draft.py",
        'yield f"Strength: {one.box.strength}',
        "yield f\"Strength: {one.box.product.strength.replace('1', '2')}",
    ),
    ("exchange/draft.py", 'yield f"Dose: {injection.dose} (', 'yield f"Dose: {injection.dose * 10} ('),
)

"""Checks a cut plan against the description of what a trimmer and hands can do, knowing nothing of how it was made.

Only the plain numbers of a plan are read (sizes, places, counts); no geometry of the planner is used.
"""

from collections import Counter

CLOSE = 0.11


def near(a, b):
    return abs(a - b) <= CLOSE


def rectangles(section):
    return [(p.kind.value, p.at_along, p.at_across, p.along, p.across) for p in section.parts]


def falls_apart_by_straight_cuts(boxes, kerf):
    """Whether these (along, across, long, wide) boxes can be parted by cuts from edge to edge, one after the other."""
    if len(boxes) <= 1:
        return True
    for axis in (0, 1):
        for line in sorted({b[axis] + b[axis + 2] for b in boxes}):
            before = [b for b in boxes if b[axis] + b[axis + 2] <= line + CLOSE]
            after = [b for b in boxes if b[axis] >= line - CLOSE]
            if before and after and len(before) + len(after) == len(boxes):
                return falls_apart_by_straight_cuts(before, kerf) and falls_apart_by_straight_cuts(after, kerf)
    return False


def broken_limits(plan, wanted, rolls, sheets, trimmer, settings_per_sitting):
    """Every limit a plan breaks, in words; empty if it can be done."""
    broken = []
    used = Counter()
    made = Counter()
    for number, sitting in enumerate(plan.sittings, 1):
        stops = set()
        roll = {r.name: r for r in rolls}.get(sitting.source)
        pile = {s.name: s for s in sheets}.get(sitting.source)
        if roll is None and pile is None:
            broken.append(f"sitting {number} cuts {sitting.source}, which is not on hand")
            continue
        width = roll.width if roll else pile.across
        for section, count in sitting.sections:
            where = f"sitting {number}"
            boxes = rectangles(section)
            long_ = max(b[1] + b[3] for b in boxes)
            if any(b[1] < -CLOSE or b[2] < -CLOSE or b[2] + b[4] > width + CLOSE for b in boxes):
                broken.append(f"{where}: a part lies outside the paper")
            for i, a in enumerate(boxes):
                for b in boxes[:i]:
                    if (
                        a[1] < b[1] + b[3] - CLOSE
                        and b[1] < a[1] + a[3] - CLOSE
                        and a[2] < b[2] + b[4] - CLOSE
                        and b[2] < a[2] + a[4] - CLOSE
                    ):
                        broken.append(f"{where}: two parts overlap")
            if not falls_apart_by_straight_cuts([b[1:] for b in boxes], trimmer.kerf):
                broken.append(f"{where}: no straight cuts part the sheets")
            if roll:
                used[roll.name] += count * (long_ + trimmer.kerf)
                stops.add(("cross", round(long_, 1)))
                if width > trimmer.blade_length + CLOSE:
                    broken.append(f"{where}: the blade does not reach across the roll")
            else:
                used[pile.name] += count
                if long_ > pile.along + CLOSE:
                    broken.append(f"{where}: longer than the sheet")
                bands = sorted({round(b[1], 1): b[3] for b in boxes}.items())
                if len(bands) > 1:
                    stops.add(("cross", round(bands[0][1], 1)))
                    if width > trimmer.blade_length + CLOSE:
                        broken.append(f"{where}: the blade does not reach across the sheet")
            for start in {round(b[1], 1) for b in boxes}:
                band = sorted((b for b in boxes if near(b[1], start)), key=lambda b: b[2])
                if len(band) > 1:
                    if band[0][3] > trimmer.blade_length + CLOSE:
                        broken.append(f"{where}: the blade does not reach along the section")
                    # every part but the last is cut off at a stop set to its width
                    stops |= {("along", round(b[4], 1)) for b in band[:-1]}
                if roll and trimmer.edge:
                    for b in band:
                        if b[0] == "sheet" and (
                            b[2] < trimmer.edge - CLOSE or b[2] + b[4] > width - trimmer.edge + CLOSE
                        ):
                            broken.append(f"{where}: a sheet has the roll's edge in it")
            for kind, _, _, along, across in boxes:
                if kind != "waste":
                    made[sitting.lot, round(along, 1), round(across, 1), kind] += count
        for way, distance in stops:
            is_edge = way == "along" and trimmer.edge and near(distance, trimmer.edge)
            if not is_edge and not trimmer.shortest_stop - CLOSE <= distance <= trimmer.longest_stop + CLOSE:
                broken.append(f"sitting {number}: the stop cannot stand at {distance}")
        if settings_per_sitting is not None and len(stops) > settings_per_sitting:
            broken.append(f"sitting {number}: {len(stops)} stop settings {sorted(stops)}")
        if len(stops) != len(sitting.settings):
            broken.append(f"sitting {number}: says {len(sitting.settings)} settings, needs {len(stops)}")
    for roll in rolls:
        if used[roll.name] > roll.length + CLOSE:
            broken.append(f"{roll.name} is {roll.length} long, {used[roll.name]} are cut off")
    for pile in sheets:
        if used[pile.name] > pile.count:
            broken.append(f"{pile.name} has {pile.count} sheets, {used[pile.name]} are cut")
    broken += [f"{key} is spare but was not cut" for key, n in plan.spare.items() if n > made[key] or n < 0]
    left = Counter({(lot, along, across, kind): n for (lot, along, across, kind), n in made.items()})
    left.subtract({(lot, along, across, kind.value): n for (lot, along, across, kind), n in plan.spare.items()})
    served = sum(n for n in left.values())
    if served != sum(plan.made.values()):
        broken.append(f"{served} pieces were given out, {sum(plan.made.values())} are said to be served")
    for wish in wanted:
        if plan.made[wish.name] + plan.short.get(wish.name, 0) != wish.count:
            broken.append(f"{wish.name}: {plan.made[wish.name]} made and {plan.short.get(wish.name)} short")
    broken += unserved(left, wanted, plan)
    return broken


def unserved(left, wanted, plan):
    """Pieces given out that serve no wish: Hall's condition over every set of wishes that can share pieces."""
    broken = []

    def serves(wish, key):
        lot, along, across, kind = key
        if wish.lots is not None and lot not in wish.lots:
            return False
        straight = near(along, wish.along) and near(across, wish.across)
        turned = near(along, wish.across) and near(across, wish.along)
        if wish.strip:
            long_, short = sorted((along, across), reverse=True)
            return long_ >= max(wish.along, wish.across) - CLOSE and short >= min(wish.along, wish.across) - CLOSE
        return kind == "sheet" and (straight or (wish.may_turn and turned))

    todo = list(wanted)
    while todo:
        group, keys = {todo.pop().name}, set()
        while True:
            more = {k for k, n in left.items() if n and any(serves(w, k) for w in wanted if w.name in group)}
            names = group | {w.name for w in wanted for k in more if serves(w, k)}
            if more == keys and names == group:
                break
            keys, group = more, names
        todo = [w for w in todo if w.name not in group]
        have, need = sum(left[k] for k in keys), sum(plan.made[name] for name in group)
        if have < need:
            broken.append(f"{sorted(group)}: {need} said to be served, {have} pieces would do")
    return broken

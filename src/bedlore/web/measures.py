"""What fillings of the farm's containers weigh, in words, and how that is known."""

from __future__ import annotations

from collections import Counter

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bedlore.farm.model import Container, Farm
from bedlore.service.fillings import LearntFillings
from bedlore.service.shown import Shown
from bedlore.web.entry_words import material_words

_MOST_MATERIALS = 3


def container_words(container: Container, farm: Farm, learnt: LearntFillings,
                    shown: Shown) -> str:  # fmt: skip
    """Size of a container as described, and what its weighings have shown."""
    size = (shown.mass(container.mass_kg) if container.mass_kg
            else shown.volume(container.volume_l or 0.0))  # fmt: skip
    told = learnt_words(container, farm, learnt, shown)
    return f"{size}; {told}" if told else size


def learnt_words(container: Container, farm: Farm, learnt: LearntFillings,
                 shown: Shown) -> str:  # fmt: skip
    """``about 6.2 kg of scraps (learnt from 7 weighings)``; "" for one never weighed."""
    weighed = Counter(one.material for one in learnt.weighings(container.id))
    said, count = [], 0
    for material, _times in weighed.most_common(_MOST_MATERIALS):
        filling = learnt.of(container, material)
        if filling is not None:
            count = filling.weighings
            said.append(_("about %(mass)s of %(material)s") % {
                "mass": shown.mass(filling.mass_kg), "material": material_words(material, farm),
            })  # fmt: skip
    if not said:
        return ""
    how = ngettext("learnt from %(count)d weighing", "learnt from %(count)d weighings",
                   count) % {"count": count}  # fmt: skip
    return f"{', '.join(said)} ({how})"


def all_learnt(farm: Farm, learnt: LearntFillings, shown: Shown) -> list[str]:
    """A line for each container that was ever weighed."""
    lines = ((one, learnt_words(one, farm, learnt, shown)) for one in farm.containers)
    return [f"{one.name}: {words}" for one, words in lines if words]

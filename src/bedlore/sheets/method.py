"""How the figures come about and what they rest on, in a few plain sentences."""

from __future__ import annotations

from bedlore.say import message

METHOD = (
    message("Each bed is followed hour by hour by a model of heat, water, decay, air and"
            " worms, from the day it began through everything in the log, under the weather"
            " that was recorded or, where none was, drawn from the normals of the place."),
    message("It is run 200 times with different plausible figures and different weather"
            " ahead. Ranges hold 9 of 10 of these runs; odds are the share of runs that cross"
            " your limit at any hour of the next 14 days, anywhere that worms live. None of"
            " 200 still means up to 1 in 60."),
    message("Published models of compost miss temperatures by several degrees, and so will"
            " this one. A hand in the bed and a thermometer go before anything here."),
    message("Measured means that it stands in your log; worked out, that the model says so;"
            " assumed, that nothing of yours tells and a general figure was taken."),
    message("The sour index is oxygen that was lacking where there is fresh starch; it is not"
            " a pH. Where work can hurt somebody, the usual caution stands beside it; local"
            " codes and licensed trades go first."),
)
SOURCES = (
    message("Heat and moisture of compost: Ahn, Sauer, Richard & Glanville 2009, Bioresource"
            " Technology 100:3974-3981."),
    message("Growth and laying of Eisenia: Venter & Reinecke 1988; Neuhauser, Hartenstein &"
            " Kaplan 1980; Reinecke & Viljoen 1990; Gunadi, Blount & Edwards 2002."),
    message("Starting a bed and feeding it: North Carolina State University extension"
            " leaflets."),
    message("Every parameter with its range and source: docs/parameters.md, or the command"
            " bedlore params."),
)

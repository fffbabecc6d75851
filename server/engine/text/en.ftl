# The sentences of standpipe in English. One key, one sentence.
# Numbers and units come in formatted; a variable that chooses a plural form comes in as a count.
# Keys begin with the noun they speak of and stay sorted by subject. The build makes a function of each.

## Vehicle identification number

vin-length = length { $found }, must be { $required }
vin-letter-never-used = letter { $letter } at position { $position } is never used
vin-character-foreign = character outside A-Z 0-9
vin-character-lookalike = character outside A-Z 0-9 (looks like { $letter } but is not)
vin-check-digit-wrong = check digit should be { $expected }, found { $found }
vin-check-digit-not-mandatory = check digit would be { $expected }, found { $found }; not mandatory in this region
vin-check-digit-unused = position 9 is not 0-9 or X, so no check digit is used
vin-capitalised = changed to capital letters
vin-spaces-removed = spaces removed
vin-hyphens-removed = hyphens removed
vin-placeholder = all 17 characters are { $character }: a placeholder, not a VIN; read it from the body plate

vin-area-africa = Africa
vin-area-asia = Asia
vin-area-europe = Europe
vin-area-north-america = North America
vin-area-oceania = Oceania
vin-area-south-america = South America

## Vehicle identification number: the last 8 from the body plate

vin-last-8-agrees = The last 8 characters agree: { $last }.
vin-last-8-differs = The last 8 characters do not agree: { $known } in the papers, { $read } on the vehicle. Read both again; a wrong entry is corrected or withdrawn.
vin-last-8-unusable = “{ $read }” is not the last 8 characters of a VIN; read 8 letters and digits from the body plate.

## Exchange

exchange-look-darker = The look at { $later } shows more old fluid than the look at { $earlier }, by more than reading can explain. Look again, and check the hoses and the litre counter.

## Record: fixed words of the printed record

record-after = after
record-balance-basis = Volumes are litres at 15 °C.
record-before = before
record-before-and-after = Before and after
record-catalogue = catalogue { $revision }
record-catalogue-none = no catalogue
record-changed-afterwards = Changed afterwards
record-chart-across = litres pushed
record-chart-up = new fluid inside, parts of 100
record-date = Date
record-details = Details of the work
record-details-readers = for the workshop and for an expert
record-distance = Distance
record-distance-at-arrival = { $arrival } at arrival
record-distance-both = { $arrival } in, { $departure } out
record-done-and-fitted = Done and fitted
record-edition = edition { $number }
record-edition-none = not issued
record-entries-by = Entries by
record-exchange = Exchange
record-file-title = Transmission fluid service, job { $number }
record-findings = What the entries show
record-fluid-in-and-out = Fluid in and out
record-foot = { $job } · { $edition } · check value { $check } · { $catalogue } · engine { $engine }
record-in = in
record-in-short = In short
record-job = Job
record-level = Level
record-not-closed = This job is not closed yet.
record-not-measured = Not measured, not done
record-out = out
record-page = page { $page } of { $pages }
record-please-note = Please note
record-right-fluid = Right fluid: how we know
record-safety-first = The instructions of the vehicle’s maker, local rules and licensed practice come first; where they differ from this record, they win. Used fluid, filters and cloths are waste that local rules govern: keep them apart and hand them to a licensed collector.
record-signed-by-customer = received by, date
record-signed-by-technician = technician, date
record-still-open = Still open
record-subtitle = Record of the work on your vehicle
record-telephone = telephone { $number }
record-title = Transmission fluid service
record-transmission = Transmission
record-transmission-not-settled = not settled
record-vehicle = Vehicle
record-vehicle-and-plate = { $vehicle }, { $plate }
record-vin = VIN
record-vin-not-read = not read
record-waste-and-safety = Waste and safety
record-withdrawn = withdrawn

## Words that people choose

visit-reason = { $reason ->
    [service-due] fluid service due
    [harsh-change] harsh gear changes
    [late-change] late gear changes
    [shudder] shudder
    [noise] noise
    [slip] slipping
    [leak] fluid seen under the vehicle
   *[warning-lamp] warning lamp on
}
vin-source = { $source ->
    [papers] in the papers
    [body-plate] on the body
    [control-unit] in the control unit
    [scan] by scanner
   *[unknown] at a place this version does not know
}
plate-agrees = { $answer ->
    [yes] the plate on the transmission agrees
    [no] the plate on the transmission does not agree
    [not-seen] the plate on the transmission could not be seen
   *[not-stated] nothing was stated of the plate on the transmission
}
part = { $part ->
    [fluid-container] fluid container
    [filter] new filter
    [transmission-plate] plate on the transmission
    [standpipe] standpipe as seen
    [old-filter] old filter as seen
   *[unknown] part that this version does not know
}
drained-from = { $place ->
    [pan] from the pan
    [spill] spilled
    [sample] taken as a sample
   *[unknown] from a place this version does not know
}
debris = { $debris ->
    [none] none
    [fine-grey-paste] fine grey paste
    [glitter] glitter
   *[flakes-or-chips] flakes or chips
}
fill-purpose = { $purpose ->
    [refill] refilled after the pan
    [level] added at the level check
   *[unknown] put in for a purpose this version does not know
}
temperature-of = { $of ->
    [transmission-fluid] fluid in the transmission
    [fresh-fluid] fresh fluid
    [drained-fluid] drained fluid
   *[unknown] something this version does not know
}
temperature-means = { $means ->
    [scan-tool] scan tool
    [thermometer] thermometer
    [infrared] infrared thermometer from outside
   *[not-stated] means not stated
}
overflow = { $overflow ->
    [nothing] nothing came
    [drops] drops
    [stream] a stream
   *[unknown] something this version does not know
}
sample-time = { $moment ->
    [before] before the service
    [after] after the service
   *[unknown] at a moment this version does not know
}
colour = { $colour ->
    [as-fresh] with a colour as fresh
    [darker] darker than fresh
    [brown] brown
   *[black] black
}
colour-seen = { $colour ->
    [as-fresh] as fresh
    [darker] darker than fresh
    [brown] brown
   *[black] black
}
clouding = { $clouding ->
    [clear] clear
    [hazy] hazy
   *[milky] milky
}
smell = { $smell ->
    [as-fresh] as fresh
    [slightly-sharp] slightly sharp
   *[burnt] burnt
}
outcome = { $outcome ->
    [done] service done
    [no-exchange-done] no exchange done
   *[unknown] an outcome this version does not know
}
means-of-settling = { $means ->
    [catalogue-rule] by the catalogue’s rule from the VIN
    [transmission-plate] by the plate on the transmission
    [looked-up] by look-up
   *[unknown] by means this version does not know
}

## What each entry states

arrival = Vehicle { $plate } arrived.
arrival-at = Vehicle { $plate } arrived with { $distance }.
vin-reading-whole = VIN { $vin }, read { $place }.
vin-reading-last-eight = Last eight of the VIN: { $last }, read { $place }.
variant-settled = Variant { $name }, settled { $means ->
    [catalogue-rule] by the catalogue’s rule from the VIN
    [transmission-plate] by the plate on the transmission
   *[unknown] by means this version does not know
}; { $plate }.
variant-settled-looked-up = Variant { $name }, looked up in { $source }; { $plate }.
part-checked = Code { $code } read on the { $part }.
part-checked-lot = Code { $code }, lot { $lot }, read on the { $part }.
exchange-reading = { $litres } pushed in.
exchange-reading-with = { $litres } pushed in: { $also }.
exchange-reading-out = { $amount } came out
exchange-reading-tube = nearest comparison tube { $percent } of 100 new
exchange-reading-temperature = fluid at { $temperature }
exchange-reading-last = end of the exchange
drain = { $amount } { $place }.
drain-brief = { $amount } { $place }
drain-with-debris = { $amount } { $place }; on pan and magnets: { $debris }.
fill = { $amount } { $purpose }.
fill-of = { $amount } of { $fluid } { $purpose }.
temperature-reading = { $temperature }: { $of } ({ $means }).
level-check = Level looked at with fluid at { $temperature }: { $seen }.
level-check-caught = Level looked at with fluid at { $temperature }: { $seen }; { $caught } caught.
fluid-sample = Sample { $moment }: { $seen }.
fluid-sample-unseen = Sample { $moment }, nothing stated of it.
sample-smell = smelling { $smell ->
    [as-fresh] as fresh
    [slightly-sharp] slightly sharp
   *[burnt] burnt
}
sample-specks = { $specks ->
    [none] without specks
    [fine-grey-paste] with fine grey specks
    [glitter] with glitter
   *[flakes-or-chips] with flakes or chips
}
correction = Correction: { $reason }
closing = Job closed: { $outcome }.
closing-at = Job closed with { $distance }: { $outcome }.

## Corrections and entries that do not fit

change-why = { $reason } ({ $person }, { $time })
changed-instead = { $now } { $why }
changed-withdrawn = Withdrawn: { $why }
entry-unreadable = Entry { $seq } cannot be read by this version; it is kept and left out of every figure.
entry-foreign = Entry { $seq } belongs to the site and says nothing of this job.
correction-of-nothing = Entry { $seq } corrects an entry that this job does not have; it changes nothing.
correction-of-correction = Entry { $seq } corrects entry { $target }, which is itself no fact of the work; name the original entry instead. It changes nothing.
correction-of-other-kind = Entry { $seq } would replace entry { $target } by a fact of another kind; it changes nothing.
clock-wrong = The clock of station { $station } was wrong; the shop server’s time is shown for what it stated.
typed-late = Typed later ({ $time }): { $fact }
stated-after-closing = Stated after the job was closed: { $fact }
corrected-twice = Entry { $seq } was corrected more than once; the latest correction counts.
person-code = person { $code }
person-name = { $name }

## Right vehicle, right variant, right fluid

identity-no-vin = No VIN was read.
identity-vins-differ = Two readings of the VIN differ: { $one } and { $other }. Read the body again; the wrong entry is corrected or withdrawn.
identity-vin-read-again = VIN: { $problem }. Read all 17 characters once more, from the body.
identity-vin-warning = VIN { $vin }: { $warning }.
identity-vin-twice = VIN read twice, { $first } and { $second }; the last eight characters are equal.
identity-vin-read-whole-twice = VIN read more than once, equal.
identity-vin-once = VIN read once, { $place }; there was no second reading.
identity-by-rule = Variant by the catalogue’s rule for this VIN: { $label }.
identity-looked-up = Variant { $label }, looked up by { $person } in { $source } on { $day }.
identity-settled-twice = Two variants were settled: { $one } and { $other }. Withdraw the wrong entry.
identity-by-plate = Variant { $label } by the plate on the transmission.
identity-plate-agrees = The plate on the transmission agrees.
identity-plate-disagrees = The plate on the transmission does not agree with { $label }. Stop and settle the variant again.
identity-plate-not-seen = The plate on the transmission was not seen.
identity-catalogue-line = Catalogue line from { $source }, { $edition }.
identity-not-listed = The catalogue does not list this variant; its data are those of the look-up.
identity-rule-contradicts = The catalogue’s rules for this VIN name { $others }, but { $label } was settled. Stop and settle the variant again.
identity-part-agrees = Code { $code } on the { $part } agrees.
identity-part-contradicts = Code { $code } on the { $part } does not belong to { $label }, which needs { $expected }. Stop: wrong fluid or parts can ruin the transmission.
identity-part-was-wrong = Code { $code } on the { $part } was seen first and is not { $expected }; a later look agreed.
identity-wrong-fluid-filled = { $fluid } was put in, but { $label } takes only { $own }.
identity-fluid-not-compared = The code on the fluid container was not compared.

## Gates

gate-variant-not-settled = Settle which transmission variant this is.
gate-vin-not-read = Read all 17 characters of the VIN; the catalogue’s rule needs them.
gate-no-rule = No rule of the catalogue fits VIN { $vin }. Look the variant up in a named source, or read the plate on the transmission.
gate-rules-fit-several = Several variants fit this VIN: { $variants }. Look it up in a named source, or read the plate on the transmission.
gate-fluid-not-known = Nobody stated which fluid { $label } takes. State it with the look-up.
gate-fluid-not-compared = Read the code on the container of the fresh fluid; it must be { $fluid }.
gate-basis-variant = Settled: { $label }.
gate-basis-fluid = Fluid { $fluid }: the container agrees.
gate-done-without = { $gate ->
    [exchange] Fluid was pushed in although no go-ahead could be given: { $why }
   *[refill] Fluid was refilled although no go-ahead could be given: { $why }
}

gate-job-closed = The job is closed; open a new one.

## Open points

open-exchange-not-ended = State the end of the exchange: litres pushed in and, if shown, litres that came out.
open-refill = Refill what ran out of the pan.
open-level = Set the level: drops at the overflow inside the temperature window.
open-close = Close the job.

## Level

level-valid = { $temperature }, { $conditions }: { $overflow }
level-not-valid = { $temperature }, { $overflow }: { $reasons }; this look does not count
level-window = Allowed: { $least } to { $greatest }.
level-conditions = Method: { $method }.
level-window-unknown = The temperature window for the level is not known; see the vehicle maker’s instructions.
level-not-looked-at = The level was not looked at.
level-not-set = No look at the level counts: it is not known to be right.
level-no-window = no temperature window is known
level-too-hot = too hot, allowed are { $least } to { $greatest }
level-too-cold = too cold, allowed are { $least } to { $greatest }
level-infrared = an infrared reading of the pan is no fluid temperature
level-engine = { $answer ->
    [no] the engine was not idling
    [not-seen] it could not be seen whether the engine was idling
   *[not-stated] it was not stated that the engine was idling
}
level-vehicle = { $answer ->
    [no] the vehicle did not stand level
    [not-seen] it could not be seen whether the vehicle stood level
   *[not-stated] it was not stated that the vehicle stood level
}
level-overflow = { $overflow ->
    [nothing] too low, add fluid and look again
    [stream] still running out, wait for drops
   *[unknown] what came is not known to this version
}
level-changed-afterwards = fluid was put in or ran out afterwards
level-looked-later = a later look saw no drops
level-means-not-stated = it was not stated how the temperature was read
level-selector = { $selector ->
    [other] the selector stood in another position
   *[not-stated] it was not stated where the selector stood
}
level-order-not-certain = it is not certain whether fluid went in or out before or after it
level-conditions-kept = { $means }, engine idling, { $selector }, vehicle level
selector = { $selector ->
    [park] selector in P
    [neutral] selector in N
    [other] selector in another position
   *[not-stated] selector not stated
}

## Before and after

row-colour = Fluid colour
row-clouding = Clouding
row-smell = Smell
row-specks = Specks in the fluid
row-pan = Pan and magnets
finding-milky = The fluid is milky: water or coolant may be in it. Look inside before exchanging.
finding-flakes-sample = Flakes or chips in the sample: look inside before exchanging.
finding-closed-without = The job was closed as ‘no exchange done’, but fluid was pushed in.
finding-odometer = The distance at the end is less than at arrival; one of them was read wrongly.
finding-flakes-pan = Flakes or chips in the pan: parts inside are wearing. A fluid service does not repair that.

## In short

short-asked = You asked for a fluid service: { $reasons }.
short-asked-plain = You asked for a fluid service.
short-found-both = We found the fluid { $seen }; on pan and magnets: { $pan }.
short-found-sample = We found the fluid { $seen }.
short-found-pan = On pan and magnets we found: { $pan }.
short-did-exchange = We pushed { $litres } of new fluid in while the old came out.
short-did-both = We pushed { $litres } of new fluid in while the old came out, drained { $drained } from the pan and refilled { $refilled }.
short-did-refill = We refilled { $refilled }.
short-did-pan = We drained { $drained } from the pan and refilled { $refilled }.
short-no-exchange = No exchange was done.
short-did-nothing = No fluid was exchanged so far.
short-share = About { $share } of 100 parts of the fluid are now new (from { $least } to { $greatest }).
short-share-unknown = How much of the fluid is now new was not measured.
short-level = The level was set at { $temperature }; allowed are { $least } to { $greatest }.
short-level-unset = The level is not known to be right; see the details.

## Exchange, in words

exchange-fill-unknown = How much the whole transmission holds is not known, so no share of new fluid is given.
exchange-too-few-looks = { $litres } were pushed in with { $found ->
    [0] no look
    [one] one look
   *[other] { $found } looks
} at the fluid. From three spaced looks on a share of new fluid can be given.
exchange-looks-too-wide = { $pushed } were pushed in, but between { $from } and { $to } nobody looked at the fluid; that is too far apart for a share of new fluid.
exchange-means = { $looks ->
    [one] One look
   *[other] { $looks } looks
} through comparison tubes (circles). The line is the new fluid inside, not what the glass shows, since some parts exchange slowly; the band holds about 95 of 100 such jobs.
exchange-share = After the exchange { $value } of 100 parts were new (from { $least } to { $greatest }).
exchange-share-after-pan = After pan and refill { $value } of 100 parts are new (from { $least } to { $greatest }).
exchange-order = It is not certain that the pan was drained after the exchange, so no share of new fluid is given.
exchange-more-left = Stop the engine: { $litres } more has left than entered.
exchange-not-refilled = The pan was drained and not refilled yet.
exchange-display-unchecked = The litre display is taken as right within { $limit }; no check of it is recorded.
exchange-pan-only = Only the pan was changed; no fluid was pushed through.

## Fluid in and out

balance-pushed = pushed in
balance-pushed-weighed = pushed in ({ $amount })
balance-refilled = refilled after the pan
balance-refilled-weighed = refilled after the pan ({ $amount })
balance-added = added at the level check
balance-added-weighed = added at the level check ({ $amount })
balance-came-out = came out in the exchange
balance-came-out-weighed = came out in the exchange ({ $amount })
balance-drained = drained from the pan
balance-drained-weighed = drained from the pan ({ $amount })
balance-lost = spilled or taken as a sample
balance-lost-weighed = spilled or taken as a sample ({ $amount })
balance-overflow = caught at the overflow
balance-overflow-weighed = caught at the overflow ({ $amount })
balance-carried-out = carried out with parts (taken, not measured)
balance-out-not-measured = What came out during the exchange was not measured, so in and out cannot be compared.
balance-unfinished = In and out are compared when what was drained is refilled.
balance-within = The difference of { $size } is within the uncertainty of the readings (± { $within }): nothing says that the vehicle arrived short or overfull.
balance-clear = { $size } more went { $more } than { $more ->
    [in] out
   *[out] in
}, from { $least } to { $greatest }: more than the readings’ uncertainty explains.
balance-meaning = { $more ->
    [in] The level is right now, so the vehicle arrived short by about that much, or fluid was lost unseen. Look for a leak.
   *[out] The level is right now, so the vehicle arrived overfull by about that much.
}
balance-implausible = That is more than a vehicle can arrive short or overfull by; an amount is missing or wrong.
balance-meaning-open = The level is not known to be right, so it cannot be said what the difference means.

## Please note

note-drops = Look under the parked vehicle for drops after about 100 km, and call us if you see any.
note-repairs-nothing = This service does not repair worn parts.
note-stop-driving = If gear changes become harsh, the vehicle slips or a warning lamp comes on, stop safely and call us.
note-instructions-first = The vehicle maker’s instructions, local rules and licensed practice come first; where they differ from this record, they win.

## Cautions

caution-lift = Lift locked, arms on the maker’s points, nobody under a moving lift.
caution-hot-fluid = Fluid is hot enough to burn in seconds: gloves, sleeves, face shield.
caution-line = The cooler line carries pressure: engine off before a coupling is opened or closed; both ends caught and capped.
caution-engine = Engine running: exhaust extracted, wheels free, nobody in front of or under the vehicle, sleeves away from belts and shafts.
caution-maker = The vehicle maker’s instructions, local rules and licensed practice come first.
caution-skin = Keep used oil off the skin and eyes; wash with soap.

## Done and fitted

done-fluid = Fresh fluid
done-fluid-named = Fluid { $name }
done-lots = lot { $lots }
done-litres = { $litres }
done-filter = New filter, code compared
done-code = { $code }

## Figures

figure-after-exchange = New fluid inside after the exchange
figure-after-pan = New fluid inside after pan and refill
figure-fluid-in = Fluid put in, at 15 °C
figure-fluid-out = Fluid that came out, at 15 °C
figure-difference = Put in minus came out, at 15 °C
figure-share = { $value } of 100 parts (from { $least } to { $greatest })
figure-litres = { $value } L (± { $half })

## Not measured, not done

missing-exchange = No fluid was pushed through.
missing-share = Share of new fluid: not measured.
missing-out = Fluid that came out during the exchange: not measured.
missing-pan = Fluid from the pan: not measured.
missing-level = Level inside the temperature window: not looked at, or no look counts.
missing-sample-before = Sample before the service: not looked at.
missing-sample-after = Sample after the service: not looked at.
missing-filter = Code of the new filter: not compared.
missing-standpipe = Standpipe as seen at the pan: not compared.
missing-always = Fault codes, test drive, torques, leak look, fuel consumption: not recorded. Particles, acid number, water: no laboratory report.

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
vin-last-8-differs = The last 8 characters do not agree: { $known } in the whole number, { $read } read on its own. Read both again; a wrong entry is corrected or withdrawn.
vin-last-8-unusable = “{ $read }” is not the last 8 characters of a VIN; read 8 letters and digits from the body plate.

## Exchange

exchange-look-darker = The look at { $later } shows more old fluid than the look at { $earlier }, by more than reading can explain. Look again, and check the hoses and the litre counter.

## Record: fixed words of the printed record

record-after = after
record-annex = Annex: every entry
record-annex-basis = What the record was made from
record-annex-cautions = Cautions in full
record-annex-catalogue = Catalogue revision: { $revision }
record-annex-digest = SHA-256 over the { $count ->
    [one] one entry
   *[other] { $count } entries
} of the job: { $digest }
record-annex-done = done
record-annex-entered = entered
record-annex-number = no.
record-annex-person = by
record-annex-photos = Photos, by SHA-256
record-annex-readers = in the order of the journal
record-annex-stands-beside = { $digest } { $what }
record-annex-what = what was entered
record-annex-words = Words beside the journal, by SHA-256
record-balance-basis = Volumes are litres at 15 °C.
record-before = before
record-before-and-after = Before and after
record-catalogue = catalogue { $revision }
record-catalogue-none = no catalogue
record-changed-afterwards = Changed afterwards
record-condition = Condition of the fluid
record-condition-line = { $line }.
record-condition-moment = { $moment }:
record-changed-and-decided = Changed afterwards, decided by name
record-chart-across = litres pushed
record-chart-up = new fluid inside, parts of 100
record-customer = Customer
record-date = Date
record-decided = Decided by name
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
record-noted = Noted in words
record-next-due = Next due
record-out = out
record-page = page { $page } of { $pages }
record-photo-erased = erased
record-photo-not-arrived = not yet arrived
record-photo-unreadable = cannot be shown
record-photos = Photos
record-photos-more = { $count ->
    [one] One more photo was taken
   *[other] { $count } more photos were taken
}; the annex names every photo.
record-please-note = Please note
record-right-fluid = Right fluid: how we know
record-safety-first = The instructions of the vehicle’s maker, local rules and licensed practice come first; where they differ from this record, they win. Used fluid, filters and cloths are waste that local rules govern: keep them apart and hand them to a licensed collector.
record-seen-and-said = { $said }
record-signed-by-customer = received by, date
record-signed-by-technician = technician, date
record-skipped = Left out: { $step }.
record-still-open = Still open
record-subtitle = Record of the work on your vehicle
record-subtitle-stopped = Short record: no exchange was done
record-telephone = telephone { $number }
record-tightening = Tightening
record-title = Transmission fluid service
record-transmission = Transmission
record-transmission-not-settled = not settled
record-typed-late = { $count ->
    [one] One entry was
   *[other] { $count } entries were
} typed much later than the work was done.
record-vehicle = Vehicle
record-vehicle-and-plate = { $vehicle }, { $plate }
record-vin = VIN
record-vin-not-read = not read
record-waste-and-safety = Waste and safety
record-withdrawn = withdrawn
record-words = “{ $words }”
record-words-about = About { $subject }: { $words }
record-words-complaint = In your words: { $words }
record-words-erased = words erased
record-words-not-arrived = words not yet arrived
record-words-order = Ordered: { $words }

## Bay sheet: fixed words of the page to write on

sheet-adaptation = adaptation: yes · no
sheet-added = added
sheet-adapter = adapter
sheet-agrees = agrees: yes · no · not seen
sheet-amount = L or kg
sheet-came = came: nothing · drops · stream
sheet-stands = stands: below · between · above
sheet-cautions-first = The instructions of the vehicle’s maker, local rules and licensed practice come first; where they differ from this sheet, they win.
sheet-celsius = °C
sheet-caught = caught
sheet-clock = clock
sheet-clouding = clear · hazy · milky
sheet-code = code
sheet-codes = codes, or none
sheet-colour = as fresh · darker · brown · black
sheet-container = container
sheet-debris = none · fine grey paste · glitter · flakes or chips
sheet-direction = direction tested: yes · no
sheet-distance = distance
sheet-driver = in the seat
sheet-dry = dry · damp · dripping
sheet-except = except
sheet-felt = as it should be · late · harsh · flare · shudder · noise · slip
sheet-file-title = Bay sheet, job { $number }
sheet-filter = Filter
sheet-filter-code = filter code
sheet-fluid = Fluid
sheet-foot = { $job } · bay sheet, state of { $check } · { $catalogue } · engine { $engine }
sheet-gear = gear
sheet-held = equipment held, rinsed with
sheet-in = in
sheet-isolated-by = isolated by
sheet-kit = kit, lot
sheet-last-eight = last 8 of the VIN, from the body
sheet-level-method = Level, method
sheet-level-window = Level, window
sheet-line-closed = line closed, clip and cap: yes · no
sheet-litres = L at look { $look }
sheet-look-it-up = see the vehicle maker
sheet-lot = lot
sheet-new-of = new, of { $count }
sheet-new-of-all = new, of all
sheet-nobody-under = nobody under: yes · no
sheet-old-filter = old filter as seen
sheet-order = order kept: yes · no
sheet-out = out
sheet-outcome = service done · no exchange done
sheet-pan-refill = Pan refill
sheet-pan-screws = Pan screws
sheet-person = person
sheet-place = cooler line · transmission
sheet-plug = Level plug
sheet-plug-new = plug new: yes · no
sheet-read-by = read by
sheet-screw-order = Screw order
sheet-screw-order-stages = { $order } at { $stages } %, unless the maker’s drawing says otherwise
sheet-screws-each = { $count } screws, { $torque }
sheet-seal-new = seal new: yes · no
sheet-smell = as fresh · sharp · burnt
sheet-standpipe = Standpipe
sheet-standpipe-seen = standpipe as seen
sheet-step = { $step ->
    [arrival] Arrival
    [codes-before] Codes before
    [drive-before] Drive before
    [sample] Sample
    [fluid] Fluid and filter
    [hookup] Hook-up
    [exchange] Exchange
    [exchange-end] End of the exchange
    [pan] Pan
    [fitted] Fitted
    [screws] Pan screws
    [refill] Refill
    [gears] Gears
    [level] Level, look { $look }
    [plug] Level plug
    [leaks] Leaks
    [codes-after] Codes after
    [drive-after] Drive after
    [waste] Waste
   *[closing] Handing over
}
sheet-subtitle = To write on at the vehicle; what counts is what is entered
sheet-title = Bay sheet
sheet-taken = taken out
sheet-tool = tool
sheet-torque-set = torque set
sheet-total-fill = Total fill
sheet-tube = tube
sheet-variant = Transmission
sheet-warmth = cold · warm
sheet-waste = used fluid, L
sheet-with = with what

# Tallies on paper.
tally-foot = { $workshop } · printed { $printed } · engine { $engine }

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
visit-cause = { $reason ->
    [harsh-change] harsh gear changes
    [late-change] late gear changes
    [shudder] shudder
    [noise] noise
    [slip] slipping
    [leak] fluid seen under the vehicle
   *[warning-lamp] a warning lamp
}
load-word = { $load ->
    [ordinary] nothing out of the ordinary
    [towing] often with a trailer or a full load
    [mountains] mostly in mountains
    [town] mostly short ways in town
    [long-distance] mostly long ways at even speed
   *[all-day] all day, such as for hire or delivery
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
dipstick = { $stands ->
    [below] below the lower mark
    [between] between the marks
   *[above] above the upper mark
}
level-method = { $method ->
    [side_hole] at the hole in the side
    [dipstick] on the dipstick
   *[standpipe_overflow] at the overflow of the standpipe
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
    [fresh] of the fresh fluid
   *[unknown] at a moment this version does not know
}
colour = { $colour ->
    [as-fresh] with a colour as fresh
    [darker] darker than fresh
    [brown] brown
    [yellow] yellow
    [green] green
    [blue] blue
    [red] red
   *[black] black
}
colour-seen = { $colour ->
    [as-fresh] as fresh
    [darker] darker than fresh
    [brown] brown
    [yellow] yellow
    [green] green
    [blue] blue
    [red] red
   *[black] black
}
fluid-dye = { $colour ->
    [red] red
    [amber] amber
    [yellow] yellow
    [green] green
    [blue] blue
   *[clear] without a colour
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
moment = { $moment ->
    [before] before the service
    [after] after the service
   *[unknown] at a moment this version does not know
}
codes-state = { $state ->
    [none] none
    [read] codes read
    [not-readable] not readable
   *[unknown] a result this version does not know
}
codes-list = { $codes }
codes-adaptation = { $held }; { $answer ->
    [yes] adaptation done
   *[no] adaptation not done
}
drive-tick = { $tick ->
    [normal] changes as they should be
    [late] changes late
    [harsh] changes harsh
    [flare] engine speed flares during a change
    [shudder] shudder
    [noise] noise
    [slip] slipping
    [bang] bang
   *[unknown] something this version does not know
}
drive-gear = into gear { $gear }
warmth = { $warmth ->
    [cold] cold
   *[warm] warm
}
drive-seen = { $seen }
inspected-part = { $part ->
    [housing] Outside of the transmission
    [cooler] Cooler and its lines
    [wiring] Plugs and wiring
    [mounts] Mounts
    [shaft-seals] Drive shafts and their seals
    [recalled-work] What was recalled
   *[unknown] Part that this version does not know
}
inspection-found = { $found ->
    [in-order] as it should be
    [damp] damp
    [dripping] dripping
    [damaged] damaged
    [put-right] put right
   *[unknown] something this version does not know
}
hookup-place = { $place ->
    [cooler-line] in the cooler line
    [transmission] at the transmission
   *[unknown] at a place this version does not know
}
hookup-equipment = equipment { $equipment }
hookup-adapter = adapter { $adapter }
hookup-direction = { $answer ->
    [yes] direction of flow tested
    [no] direction of flow not tested
    [not-seen] direction of flow could not be seen
   *[not-stated] direction of flow not stated
}
service-part = { $part ->
    [filter] filter
    [pan-seal] pan seal
    [magnets] magnets
    [pan-screws] pan screws
    [pan] pan
    [standpipe] standpipe
    [plug] level plug
    [plug-seal] seal of the level plug
   *[wiring-sleeve] sleeve of the wiring plug
}
kit-code = kit { $code }
kit-lot = lot { $lot }
kit-all = all of the kit
kit-except = all of the kit, except { $parts }
parts-new = { $parts }
parts-new-except = { $parts }; not renewed: { $excepted }
parts-excepted = nothing; not renewed: { $excepted }
screw-group = { $group ->
    [pan] Pan screws
    [filter] Screws of the filter
    [other] Other screws
   *[unknown] Screws that this version does not know
}
screws-new = { $new } of { $all } new
screw-order = { $answer ->
    [yes] order kept
    [no] order not kept
    [not-seen] order could not be seen
   *[not-stated] order not stated
}
screws-used-again = { $new } of { $all } new, screws used again
screws-recorded = { $count ->
    [one] 1 screw kept by the tool
   *[other] { $count } screws kept by the tool
}
torque-set = { $torque }
torque-none = tightened without a torque tool
tool = tool { $code }
nobody-under = { $answer ->
    [yes] nobody under the vehicle
    [no] somebody under the vehicle
    [not-seen] it could not be seen whether somebody was under the vehicle
   *[not-stated] it was not stated whether somebody was under the vehicle
}
plug-seal-new = { $answer ->
    [yes] seal new
    [no] seal used again
    [not-seen] seal could not be seen
   *[not-stated] seal not stated
}
plug-itself-new = { $answer ->
    [yes] plug new
    [no] plug used again
   *[not-seen] plug could not be seen
}
leak-found = { $found ->
    [dry] dry
    [damp] damp
    [dripping] dripping
   *[unknown] something this version does not know
}
line-closed = { $answer ->
    [yes] cooler line closed with clip and cap
    [no] cooler line not closed
   *[not-seen] cooler line could not be seen
}
condition = { $condition ->
    [lift-locked] lift locked, arms on the maker’s points
    [engine-off] engine off
    [line-closed] cooler line closed
    [pan-closed] pan closed
    [tools-and-people-clear] tools and people clear of the vehicle
    [high-voltage-isolated] high-voltage system isolated by a qualified person
    [lowered] vehicle on its wheels again
   *[unknown] a condition this version does not know
}
caution-group = { $group ->
    [lifted] vehicle lifted
    [line-opening] opening a line
    [engine-running] engine running
    [pan-and-hot] pan and hot fluid
    [gears-and-level] gears and level
   *[unknown] a group this version does not know
}
waste-kind = { $kind ->
    [used-fluid] Used fluid
    [filter] Filters
    [cloths] Cloths and absorbents
    [empty-cans] Empty cans
   *[unknown] Waste of a kind this version does not know
}
waste-measured = { $amount }
waste-pieces = { $count ->
    [one] one piece
   *[other] { $count } pieces
}
waste-unstated = an amount this version does not know
photo-subject = { $subject ->
    [sample-before] sample before the service
    [sample-after] sample after the service
    [magnets] pan and magnets
    [transmission-plate] plate on the transmission
    [body-plate] plate on the body
    [filter] old filter
    [other] another subject
    [comparison] fluid before, now and fresh in one picture
   *[unknown] a subject this version does not know
}
remark-subject = { $subject ->
    [complaint] the customer’s complaint
    [order] the customer’s order
    [drive-before] the drive before the service
    [drive-after] the drive after the service
    [other] another subject
   *[unknown] a subject this version does not know
}
skip-reason = { $reason ->
    [not-possible] not possible
    [not-ordered] not ordered
    [not-safe] not safe
    [tool-missing] tool or instrument missing
    [later] will be done later
   *[unknown] a reason this version does not know
}
customer-topic = { $topic ->
    [fault-codes] fault codes that a fluid service does not repair
    [look-inside-first] looking inside before exchanging
    [no-exchange] stopping without an exchange
    [cooler-cleaning] cleaning the cooler
    [leak] a leak
    [parts-used-again] parts used again
    [recall] a recall
   *[unknown] a subject this version does not know
}

# Facts of the site.
supply = { $what ->
    [fluid] fluid
    [filter] filter
    [kit] kit
    [seal] seal
    [screws] screws
    [other] other part
   *[unknown] thing this version does not know
}
tool-kind = { $kind ->
    [torque-tool] Torque tool
    [litre-display] Litre display
   *[unknown] Tool of a kind this version does not know
}

## What each entry states

arrival = Vehicle { $plate } arrived.
arrival-noted = Vehicle { $plate } arrived: { $noted }.
arrival-distance = { $distance }
arrival-complaint = complaint about job { $job }
arrival-high-voltage = high-voltage system
arrival-load = use: { $load }
arrival-registered = first registered on { $day }
vin-reading-whole = VIN { $vin }, read { $place }.
vin-reading-last-eight = Last eight of the VIN: { $last }, read { $place }.
variant-settled = Variant { $name }, settled { $means ->
    [catalogue-rule] by the catalogue’s rule from the VIN
    [transmission-plate] by the plate on the transmission
   *[unknown] by means this version does not know
}; { $plate }.
variant-settled-looked-up = Variant { $name }, looked up in { $source }; { $plate }.
plate-of-another = { $plate }; another transmission was fitted than the vehicle was built with
part-checked = Code { $code } read on the { $part }.
part-checked-lot = Code { $code }, lot { $lot }, read on the { $part }.
exchange-reading = { $litres } pushed in.
exchange-reading-with = { $litres } pushed in: { $also }.
exchange-reading-out = { $amount } came out
exchange-reading-tube = nearest comparison tube { $percent } of 100 new
exchange-reading-temperature = fluid at { $temperature }
exchange-reading-last = end of the exchange
exchange-reading-colours = colours in one photo: glass { $glass }, before { $before }, fresh { $fresh }, white { $white }
exchange-reading-photo = a photo of the glass
exchange-reading-instrument = instrument { $percent } of 100 new (± { $uncertainty } standard uncertainty)
drain = { $amount } { $place }.
drain-brief = { $amount } { $place }
drain-with-debris = { $amount } { $place }; on pan and magnets: { $debris }.
fill = { $amount } { $purpose }.
fill-of = { $amount } of { $fluid } { $purpose }.
temperature-reading = { $temperature }: { $of } ({ $means }).
level-check = Level looked at with fluid at { $temperature }: { $seen }.
level-check-counted = { $seen }, { $drops ->
    [one] one counted
   *[other] { $drops } counted
} in a minute
level-check-caught = Level looked at with fluid at { $temperature }: { $seen }; { $caught } caught.
level-check-taken = Level looked at with fluid at { $temperature }: { $seen }; { $taken } taken out.
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
sample-photo = colour in a photo { $colour }
letter = laboratory report { $report }: { $figures }
letter-viscosity = viscosity { $viscosity } at { $at }
letter-acid = acid number { $acid }
letter-water = water { $water }
letter-particles = { $number } particles per mL from { $size } µm(c)
letter-crackle = hot plate of the laboratory: { $crackle ->
    [none] no bubbles
    [fine] fine bubbles
    [growing] bubbles that grow
   *[violent] violent bubbles
}
correction = Correction: { $reason }
closing = Job closed: { $outcome }.
closing-at = Job closed with { $distance }: { $outcome }.
fault-codes = Fault codes { $moment }: { $seen }.
fault-codes-driven = Fault codes { $moment }: { $seen }; distance driven { $shares }.
temperature-share = { $percent } at { $celsius }
road-test = Drive { $moment }, the driver’s impression: { $seen }.
inspection = { $part }: { $found }.
hookup = Exchange equipment connected { $place }: { $details }.
part-fitted = Fitted new: { $what }.
part-fitted-with = Fitted new: { $what } ({ $details }).
tightening = { $group }: { $new }, { $how }.
gear-cycle = Selector moved through all positions, engine running; in the driver’s seat { $driver }; { $under }.
plug-closed = Level plug closed: { $details }.
leak-check = Looked for leaks { $when ->
    [after-drive] after the drive
   *[in-bay] in the bay
}: { $seen }.
condition-confirmed = Confirmed: { $conditions }.
caution-read = Cautions read: { $group }.
waste = { $kind }: { $amount }.
waste-into = { $kind }: { $amount }, container { $container }.
photo = Photo: { $subject }.
remark = Words kept beside the journal, about { $subject }.
skipped = Left out: { $step }, { $reason }.
customer-answer = { $said ->
    [informed] Customer informed of
    [agrees] Customer agrees to
    [declines] Customer declines
   *[unknown] Customer’s answer, not known to this version, to
} { $topic }.
decision = Decided ({ $point }): { $reason }
record-issued = Record issued, edition { $edition }.
handover = Vehicle and record handed over, edition { $edition }.
signature = { $form ->
    [one] One entry
   *[more] { $count } entries
} signed with a PIN.

# Facts of the site.
store-fluid = { $amount }
store-pieces = { $count ->
    [one] 1 piece
   *[other] { $count } pieces
}
store-unstated = an amount this version does not know
lot-received = Received: { $amount }, { $what } { $code }, lot { $lot }.
lot-received-until = Received: { $amount }, { $what } { $code }, lot { $lot }, to be used until { $day }.
stock-counted = Counted: { $amount } of { $code }.
stock-counted-lot = Counted: { $amount } of { $code }, lot { $lot }.
tool-checked = { $kind } { $tool } { $event ->
    [checked] checked
    [overloaded] overloaded, dropped or repaired
    [taken-out] taken out of use
   *[unknown] met something this version does not know
}.
tool-checked-off = { $kind } { $tool } checked: off by { $deviation } at most.
equipment-emptied = Equipment { $equipment } was emptied.
equipment-rinsed = Equipment { $equipment } was rinsed with { $amount } of { $fluid }.
equipment-holds = Equipment { $equipment } holds { $fluid }.
waste-collected = Waste { $code }: { $amount } taken by { $carrier }, document { $document }.
lot-recalled = Lot { $lot } recalled: { $reason }
lot-recall-lifted = Recall of lot { $lot } lifted: { $reason }

## Feed

mean-of-lines = mean of { $count } lines
temperature-reading-mean = { $temperature }: { $of } ({ $means }), mean of { $count } lines.

## Tools, screws and equipment

# A tool, and what speaks against it.
tool-never-checked = Torque tool { $tool } was never checked.
tool-check-old = The check of torque tool { $tool } was due on { $day }.
tool-worn = Torque tool { $tool } has tightened { $uses } screws since its check; { $most } are the limit.
tool-overloaded = Torque tool { $tool } was overloaded, dropped or repaired and not checked since.
tool-out-of-limits = Torque tool { $tool } was found out of its limits.
tool-out-of-limit-taken = Torque tool { $tool } was found out of { $limit }, the limit that is taken where none is stated.
tool-taken-out = Torque tool { $tool } was taken out of use.
tool-range = Torque tool { $tool } is marked from { $least } to { $greatest }, and { $set } lies outside.
finding-tool-unknown = Torque tool { $tool } is not in the register of tools.

# Screws of the pan: order and stages.
step-screws-torque = Tighten the pan’s screws. { $torque }
step-screws-in-order = Tighten the pan’s screws. { $whose ->
    [maker] Maker’s order
   *[own] Order, unless the maker’s drawing says otherwise
}: { $order }. { $stages }
screw-stages = { $how ->
    [by-hand] By hand first, then the whole order at { $torques }
   *[with-tool] The whole order at { $torques }
}; then once more round as a check.
screw-torque-by-maker = Torque: see the vehicle maker.

# Tallies of tools and equipment.
tally-tools = Tools
tally-tool = Tool { $tool }
tally-equipment = Exchange equipment
tally-torque-tools = Torque tools
tally-displays = Litre displays
tally-checks = Checks
tally-jobs-since = Jobs since the last good check
tally-equipment-holds = What it holds
tally-to-call = Jobs to look at again: their tool was found out of its limits
tally-nobody-to-call = No tool was found out of its limits.
tally-no-tools = No torque tool is in the register.
tally-no-displays = No litre display was checked.
tally-no-checks = No check is on record.
tally-no-jobs-since = No job used it since.
tally-no-equipment = No exchange equipment is known by a code.
tally-tools-note = Checked again after { $months } months or { $uses } screws, a litre display after { $display } months ({ $source }).
tally-uses-note = Every screw counts once for each stage and the check pass.
tally-equipment-note = After an exchange the equipment holds the fluid of that job, until somebody says that it was rinsed or emptied.
tally-list = { $said }
tally-limit-taken = { $limit }, taken: none is stated
tally-range = { $least } to { $greatest } N·m
tally-holds = { $holds ->
    [nothing] nothing, it was emptied
   *[not-known] not known
}
tool-state = { $state ->
    [usable] may be used
    [inside] inside its limits
    [limit-not-stated] limit not stated
    [old] check was due
    [worn] too many screws since its check
    [overloaded] overloaded, not checked since
    [out-of-limits] out of its limits
    [taken-out] taken out of use
   *[never-checked] never checked
}
tool-used-for = { $used ->
    [pan-screws] pan screws
    [filter-screws] screws of the filter
    [other-screws] other screws
    [plug] level plug
   *[unknown] something this version does not know
}
tool-column = { $column ->
    [tool] Tool
    [equipment] Equipment
    [range] Marked range
    [limit] Limit
    [checked] Checked on
    [certificate] Certificate
    [uses] Screws since
    [kind] What it is
    [due] Due on
    [state] State
    [shown] Showed
    [reference] For
    [deviation] Deviation
    [event] What happened
    [found] Found on
    [job] Job
    [plate] Plate
    [done] Done on
    [used] Used for
    [screws] Screws
    [fluid] Fluid
    [litres] About
   *[since] Since
}

# What equipment holds.
step-equipment-contents = What does the exchange equipment still hold?
step-equipment-contents-of = What does equipment { $equipment } still hold?
ask-contents = Equipment
ask-equipment = Code on the equipment
ask-held = Holds
ask-held-fluid = Which fluid
ask-held-litres = About how much
ask-rinsed = Rinsed with how much
equipment-held = { $held ->
    [fluid] fluid
    [nothing] nothing, it was emptied
   *[unknown] something this version does not know
}
choice-holds = { $fluid }, the right one
choice-rinsed = rinsed with { $fluid } just now
choice-emptied = nothing, it was emptied
choice-holds-other = something else
finding-equipment-other = Equipment { $equipment } still held about { $litres } of { $other } when it was pushed through: that went in first.

# The litre display.
exchange-display-checked = The litre display was checked on { $day }: it showed { $shown } for { $reference }, and its litres in and out are corrected by that.
exchange-foreign = About { $litres } of another fluid went in first and are not counted as new.
finding-display-doubtful = The check of the litre display of equipment { $equipment } says that it showed { $shown } for { $reference }: that cannot be right and is not used; measure again.
finding-display-overdue = The check of the litre display of equipment { $equipment } was due on { $due }: it is taken as right within { $limit } again.
finding-screws-again = { $group }: { $reused } of { $all } were used again; see the vehicle maker whether that may be.
finding-display-coarse = The check of the litre display of equipment { $equipment } was read too coarsely ({ $shown } for { $reference }): it is taken as right within { $limit }, as without a check. Check it again and read both to 0.1 L or finer.

## Corrections and entries that do not fit

change-why = { $reason } ({ $person }, { $time })
changed-instead = { $now } { $why }
changed-withdrawn = Withdrawn: { $why }
changed-unsigned = Not signed; it does not count.
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
person-unnamed = a person who is not named here

## Right vehicle, right variant, right fluid

identity-no-vin = No VIN was read.
identity-vins-differ = Two readings of the VIN differ: { $one } and { $other }. Read the body again; the wrong entry is corrected or withdrawn.
identity-vin-read-again = VIN: { $problem }. Read all 17 characters once more, from the body.
identity-vin-warning = VIN { $vin }: { $warning }.
identity-vin-twice = VIN read twice, { $first } and { $second }; the last eight characters are equal.
identity-vin-twice-alike = VIN read twice, both times { $place }; the last eight characters are equal.
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
wrong-fluid-amount = { $litres } of { $fluid }
wrong-fluid-amounts = { $fluids }
wrong-fluid-inside = Wrong fluid is inside: { $what }, as far as it was measured. Engine off, do not drive: drain it, refill with { $own } and exchange again, as the vehicle maker’s instructions decide.
wrong-fluid-inside-not-settled = Fluid went in that { $label } does not take: { $what }; and which fluid belongs inside is not settled. Engine off, do not drive: settle it first, then the vehicle maker’s instructions decide.
wrong-fluid-not-put-right = Wrong fluid went in: { $what }. Do not drive until it is put right, as the vehicle maker’s instructions decide.
wrong-fluid-went-in = Wrong fluid went in: { $what }, as far as it was measured; { $label } takes only { $own }.
wrong-fluid-was-put-right = Wrong fluid went in: { $what }, as far as it was measured; { $label } takes only { $own }. { $person } decided that it was put right: { $reason }
wrong-fluid-left = Of the wrong fluid { $litres } (from { $least } to { $greatest }) are computed still to be inside, by litres alone, taken as mixed as is usual.
wrong-fluid-left-not-known = How much of the wrong fluid is still inside is not known: { $why ->
    [fill] nobody stated how much the transmission holds.
    [order] it is not certain what was done first.
    [not-mixed] it was drained before the engine had mixed it.
    [counter] the litre counter went back.
   *[amount] an amount is missing or cannot be right.
}
identity-fluid-not-compared = The code on the fluid container was not compared.
# Questions of identity that stay open, and what settles them.
identity-vin-accepted = VIN { $vin }: { $problem }. It counts all the same, because all 17 characters were read alike more than once.
identity-decided = { $question } { $person } decided: { $reason }
identity-not-as-built = Another transmission was fitted than the vehicle was built with, so the VIN does not speak of it.
identity-catalogue-newer = The catalogue has changed since the variant was settled: { $changes }.
identity-newer-lists = The catalogue lists variant { $code } now. Settle the variant again to use what it says.
newer-unlisted = it no longer lists { $label }
newer-rules-name = its rules for this VIN name { $others }
newer-rules-allow = its rules for this VIN no longer name only others
newer-rules-open = its rules no longer settle this VIN
newer-rules-settle = its rules settle this VIN
newer-value = { $what ->
    [fluid] fluid { $newer } instead of { $older }
    [filter] filter { $newer } instead of { $older }
    [standpipe] standpipe { $newer } instead of { $older }
   *[level] level at { $newer } instead of { $older }
}
newer-method = level { $newer } instead of { $older }
# Model year.
identity-equipment-rinsed = Equipment { $equipment } held { $before } before and was rinsed with { $amount } of { $fluid }.
identity-equipment-emptied = Equipment { $equipment } held { $before } before and was emptied.
identity-equipment-held = Equipment { $equipment } held { $fluid } before.
identity-settled-newer = Settled as { $before } before a newer catalogue was adopted; settled again as { $now }.
identity-year-light = Model year by the VIN, for a car or light truck: { $year }.
identity-year-one = Position 10 of the VIN ({ $code }) can only mean model year { $year }.
identity-years = Position 10 of the VIN ({ $code }) can mean model year { $years }; the VIN of this area need not state one.
identity-year-registered = Model year { $year }, by the VIN and the first registration on { $day }.
identity-year-first-registered = First registered on { $day }.
identity-year-contradicts = First registered on { $day }, but position 10 of the VIN ({ $code }) can only mean model year { $years }. Look at VIN and papers again.

## Gates

gate-variant-not-settled = Settle which transmission variant this is.
gate-vin-not-read = Read all 17 characters of the VIN; the catalogue’s rule needs them.
gate-no-rule = No rule of the catalogue fits VIN { $vin }. Look the variant up in a named source, or read the plate on the transmission; else a named person decides.
gate-rules-fit-several = Several variants fit this VIN: { $variants }. Look it up in a named source, or read the plate on the transmission; else a named person decides.
gate-fluid-not-known = Nobody stated which fluid { $label } takes. State it with the look-up.
gate-fluid-not-compared = Read the code on the container of the fresh fluid; it must be { $fluid }.
gate-not-as-built = Another transmission was fitted, and the VIN does not speak of it. Settle the variant by the plate on the transmission or by a look-up.
gate-plate-not-seen = { $label } was settled by the plate on the transmission, but the plate was not seen. Read it, look the variant up in a named source, or a named person decides.
gate-fluid-colour = The old fluid is { $seen }, { $fluid } is { $fresh }: was another fluid filled, or is it another variant? Look again; else a named person decides.
gate-catalogue-newer = The catalogue has changed since the variant was settled: { $changes }. Settle the variant again.
gate-basis-variant = Settled: { $label }.
gate-basis-fluid = Fluid { $fluid }: the container agrees.
gate-basis-equipment-unknown = What equipment { $equipment } still holds is not known.
gate-done-without = { $gate ->
    [exchange] Fluid was pushed in although no go-ahead could be given: { $why }
   *[refill] Fluid was refilled although no go-ahead could be given: { $why }
}

gate-job-closed = The job is closed; open a new one.

## Open points

open-exchange-not-ended = State the end of the exchange: litres pushed in and, if shown, litres that came out.
open-refill = Refill what ran out of the pan.
open-level = Set the level: drops at the overflow inside the temperature window.
open-level-dipstick = Set the level: between the marks of the dipstick inside the temperature window.
open-close = Close the job.

## Level

level-valid = { $temperature }, { $conditions }: { $overflow }; this look counts
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

# By dipstick, or at a hole in the side
level-read = The level is read { $method }.
level-needs-dipstick = this transmission has a dipstick, and it was not stated what that shows
level-needs-overflow = the level of this transmission is set at the overflow, not by a dipstick
level-dipstick = { $stands ->
    [below] too low, add fluid and look again
   *[above] too high, take fluid out and look again
}
level-looked-later-dipstick = a later look saw another level

# When to read the temperature for the level
level-when-hot = Too hot: { $read }. With the engine off, read the temperature again at { $again } (between { $earliest } and { $latest }); do something else until then.
level-when-cold = Still cold: { $read }. With the engine idling, read the temperature again at { $again } (between { $earliest } and { $latest }).
level-when-cold-engine-off = Still cold: { $read }, and the engine is off. It warms only with the engine idling: ask for the go-ahead to start it.
level-when-due = Read the temperature now: it was { $read } at { $clock }, and it should be near { $least } to { $greatest } by { $again }.
level-when-inside = { $read } at { $clock } is inside { $least } to { $greatest }; this reading counts until { $until }. Ask for the go-ahead for the level by then: engine idling, selector in P (or in N, where the vehicle maker says so), vehicle level, catch tray under it, gloves on.
level-when-inside-dipstick = { $read } at { $clock } is inside { $least } to { $greatest }; this reading counts until { $until }. Ask for the go-ahead for the level by then: engine idling, selector in P (or in N, where the vehicle maker says so), vehicle level, lint-free cloth, gloves on.
level-when-read-again = { $read } at { $clock } was inside { $least } to { $greatest }, but that reading is older than 2 minutes: read the temperature again.
level-when-not-cooling = It does not cool: { $read } at { $clock }. Switch the engine off, and read the temperature again later.
level-when-not-warming = It does not warm: { $read } at { $clock }. Is the engine idling? Read the temperature again later.
level-when-stays-hot = Too hot: { $read }. When it comes to { $least } to { $greatest } cannot be said. Leave the engine off, and read the temperature again later.
level-when-stays-cold = Still cold: { $read }. When it comes to { $least } to { $greatest } cannot be said. Let the engine idle, and read the temperature again later.
level-when-jump = { $before } at { $first } and { $read } at { $clock }: these readings do not fit together; read again.
level-when-infrared = An infrared reading of the pan does not count.
level-when-infrared-alone = An infrared reading of the pan does not count: read the temperature with scan tool or thermometer.
level-when-also = { $said } { $also }
level-when-guess = That is a guess until there is a second reading.
level-when-one-more = That is still mostly a guess; another reading makes it better.
level-when-not-one-curve = The readings do not lie on one line of cooling or warming, so the time is less certain.
level-when-may-not-arrive = It may come to rest before it is there.

# A drip that was counted
level-drip = { $drops ->
    [one] One drop
   *[other] { $drops } drops
} a minute at { $read }, { $warming }: { $outcome ->
    [reached] that is no more than warming explains, so nothing stands above the edge of the overflow
    [surplus] that is more than warming explains, so fluid still stands above the edge of the overflow
   *[not-yet] that is less than warming explains, so the fluid may still stand below the edge of the overflow
}.
level-drip-rising = while the fluid warmed by { $rate } a minute, which alone drives out about { $flow } a minute
level-drip-still = while the fluid did not warm, so that nothing is driven out by warming
level-drip-unknown = { $drops ->
    [one] One drop
   *[other] { $drops } drops
} a minute at { $read }: whether that is warming or surplus cannot be said, since { $lacking ->
    [fill] it is not known how much the transmission holds
   *[reading] the temperature was not read twice within ten minutes, at least one minute apart
}.

## Before and after

row-colour = Fluid colour
row-clouding = Clouding
row-smell = Smell
row-specks = Specks in the fluid
row-pan = Pan and magnets
row-codes = Fault codes
row-leaks = Leaks
leaks-then = first { $first }, then { $last }
row-drive = Drive (driver’s impression)
finding-milky = The fluid is milky: water or coolant may be in it. Look inside before exchanging.
finding-flakes-sample = Flakes or chips in the sample: look inside before exchanging.
finding-repair-first = Fault code { $code }. A fluid exchange does not repair this fault; find it first.
finding-overheated = Fault code { $code }: the fluid was too hot; find the reason first. A named person decides whether the service goes on.
finding-temperature-signal = Fault code { $code }: setting the level needs the fluid temperature, and its signal is faulty. A named person decides whether the service goes on.
finding-look-further = Fault code { $code }: the control unit asks for attention; read its own codes.
finding-maker-code = Fault code { $code } is the vehicle maker’s own; look it up. A named person decides whether the service goes on.
finding-closed-without = The job was closed as ‘no exchange done’, but { $litres } were pushed in: correct the closing, or the readings.
finding-decision-idle = Decided: { $point }. Nothing of that name waits for a decision{ $open ->
    [none] .
   *[some] ; there are: { $points }.
}
finding-decision-not-allowed = Decided: { $point }. Nobody can override this; the decision changes nothing.
finding-decision-unsigned = Decided by { $person }: { $point }. It is not signed with a PIN and does not count until it is.
finding-correction-unsigned = Entry { $seq } of { $person } corrects entry { $of } after the record was issued, or corrects a decision. It is not signed with a PIN; what was written before counts until it is.
finding-decision-to-do = Decided: { $point }. That is not decided but done, or left out with a reason; the decision changes nothing.
finding-skipped-unknown = Left out: { $step }. There is no step of that name; nothing was left out by it.
finding-closed-open = The job was closed with this open: { $what }
finding-odometer = The distance at the end is less than at arrival; one of them was read wrongly.
finding-odometer-before = The distance at arrival, { $now }, is less than the { $then } of job { $job }; one of them was read wrongly.
finding-complaint-unknown = No earlier job { $job } of this vehicle is known here; look at the number of the job complained of again.
finding-come-back = The vehicle comes back { $days ->
    [one] one day
   *[other] { $days } days
} after job { $job }, which the customer complains about.
finding-handover-open = The vehicle was handed over before the job was closed.
finding-handover-unissued = Edition { $edition } was handed over, but no such edition had been issued.
finding-litres-back = The exchange ended at { $end }, but { $most } was read before; one of them was read wrongly.
finding-litres-many = { $pushed } pushed in is many times the { $fill } that the transmission holds; look at the reading again.
finding-arrived-short = The vehicle arrived { $size } short (from { $least } to { $greatest }): look for the leak.
finding-arrived-over = The vehicle arrived { $size } overfull (from { $least } to { $greatest }).
finding-flakes-pan = Flakes or chips in the pan: parts inside are wearing. A fluid service does not repair that.

# Condition of the fluid: what was seen, what it speaks for, why, and the rule that decided.
condition-line = { $seen } – { $speaks } – { $why }
condition-line-nothing = { $seen } – says nothing, { $why }
condition-line-photo = Colour difference: says nothing, { $why }
condition-speaks = { $speaks ->
    [leaving] for leaving the fluid in
    [changing] for changing it
    [inside] for looking inside first
   *[nothing] says nothing
}
condition-conclusion = { $conclusion ->
    [look-inside] look inside before exchanging
    [look-inside-again] look inside before exchanging again
    [change] this speaks for changing it
    [too-little] too little seen to say
    [nothing-against] nothing speaks against it
   *[no-reason] no reason seen to change it now
}
condition-by-rule = { $conclusion ->
    [look-inside] Look inside before exchanging (rule 1: metal, milky fluid, or slip with burnt smell).
    [look-inside-again] Look inside before exchanging again (rule 1: metal, milky fluid, or slip with burnt smell).
    [change] This speaks for changing it (rule 2: two kinds of signs, or one that is enough alone).
    [too-little] Too little was seen to say (rule 3: fewer than three kinds of signs could be judged).
    [nothing-against] Nothing speaks against it after the service (rule 4).
   *[no-reason] No reason seen to change it now (rule 4).
}
condition-moment = { $moment ->
    [before] Before the service
   *[after] After the service
}
condition-advice = The fluid { $moment }: { $conclusion } ({ $reason }).
condition-advice-letter = { $advice } The laboratory’s figures stand under ‘Condition of the fluid’.
condition-because = { $signs }
condition-because-few = fewer than three different things could be judged
condition-because-one = of { $number } different things looked at, only one speaks for it: { $sign }
condition-because-none = { $number } different things looked at, none speaks for it
condition-seen = { $what ->
    [smell] Smell
    [clouding] Clouding
    [colour] Colour
    [specks] Specks in the fluid
    [pan] Pan and magnets
   *[drive] Drive (driver’s impression)
}: { $seen }
condition-sign = { $what ->
    [smell] smell
    [clouding] clouding
    [colour] colour
    [specks] specks in the fluid
    [pan] pan and magnets
   *[drive] drive
}: { $seen }
condition-figure = { $what ->
    [photo] colour in the photo
    [crackle] water on the hot plate of the laboratory
    [water] water content by the laboratory
    [viscosity] viscosity by the laboratory
    [acid] acid number by the laboratory
    [particles] particles counted by the laboratory
   *[distance] distance driven on this fluid
}
condition-seen-also = { $seen }; { $also }
condition-report = report { $reports }
condition-reports-differ = the reports differ, the latest one counts
condition-seen-crackle = { $seen }; a rough guide, which shows nothing below about 500 ppm
condition-seen-laboratory = Laboratory: { $figures }
condition-seen-distance-weighted = Distance on this fluid: { $distance } since job { $job }, by its temperatures as much as { $weighted } at { $reference }; { $assumption }
condition-seen-distance = Distance on this fluid: { $distance } since job { $job }, not weighted by temperature
condition-seen-photo = Colour in the photo: { $fluid }
condition-seen-photos = Colour in the photo: { $fluid }; fresh fluid { $fresh }; difference { $difference } (CIEDE2000)
condition-seen-viscosity = Viscosity at { $at }: { $used }, fresh fluid { $fresh }, change { $change } (from { $least } to { $greatest })
condition-seen-acid = Acid number: { $used }, fresh fluid { $fresh }, change { $change } (from { $least } to { $greatest })
condition-seen-water = Water: { $used }, fresh fluid { $fresh }, change { $change } (from { $least } to { $greatest })
condition-seen-particles = Particles per mL: { $four } from 4 µm(c), { $six } from 6, { $fourteen } from 14; code { $code } (ISO 4406)
condition-lab-colour = L* { $lightness }, a* { $redness }, b* { $yellowness }
condition-not-clear = no more than the figures’ own uncertainty
condition-brought = { $whose ->
    [used] the used fluid
   *[fresh] the fresh fluid
} brought to it by ASTM D341
condition-continued = { $whose ->
    [used] the used fluid
   *[fresh] the fresh fluid
} brought to it by ASTM D341, beyond the temperatures at which it was measured
condition-index = viscosity index { $used }
condition-index-both = viscosity index { $used }, fresh fluid { $fresh }
condition-why = { $why ->
    [like-fresh] like fresh fluid
    [ordinary] nothing out of the ordinary
    [expected] to be expected of fluid in use
    [oxidised] comes with oxidised or overheated fluid
    [water] comes with water in the fluid
    [wear] comes with parts that wear out of the ordinary
    [not-the-fluid] the fluid alone does not make it, and changing the fluid does not repair it
    [no-limit] no limit is stated
    [unlike-light] the photos are not known to be taken under the same light
    [counted-otherwise] the limit is stated for sizes that were not counted
    [no-fresh-fluid] nothing is known of the fresh fluid to compare it with
    [unlike-temperatures] used and fresh fluid were measured at temperatures that cannot be brought together
    [count-missing] a code needs the counts from 4, 6 and 14 µm(c)
    [contradicting] the figures contradict each other; one of them was read wrongly
    [unlike-white] the white sheets in the two photos differ, so the light was not the same
   *[no-number] it gives no number
}
condition-why-limit = { $way ->
    [below] not beyond the limit of { $limit } ({ $source })
    [beyond] beyond the limit of { $limit } ({ $source })
   *[near] too near the limit of { $limit } to tell ({ $source })
}
condition-limit = { $limit }
condition-limit-change = { $limit } either way
condition-limit-particles = { $counts } per mL (scale numbers { $code })
finding-fresh-spoiled = The sample of the fresh fluid was not clear and clean: leave that container closed and take another.

## Earlier jobs of the vehicle

history-service = Job { $job }, { $day }: fluid service done with { $fluid }.
history-service-plain = Job { $job }, { $day }: fluid service done.
history-stopped = Job { $job }, { $day }: no exchange done.
history-open = Job { $job }, { $day }: not closed.
history-since = { $distance } since the last fluid service here; this workshop’s interval is { $interval }: { $due }.
history-since-plain = { $distance } since the last fluid service here.
history-due = { $due ->
    [early] early
    [due] due
   *[late] late
}
history-none = No earlier job of this vehicle is known here.

## In short

short-asked = You asked for a fluid service because of { $reasons }.
short-asked-due = You asked for a fluid service, since it was due.
short-asked-due-and = You asked for a fluid service, since it was due and because of { $reasons }.
short-asked-plain = You asked for a fluid service.
short-complained = You came back about job { $job }: { $reasons }.
short-complained-plain = You came back about job { $job }.
short-found = We found { $what }.
found-also = { $one }; { $other }
found-fluid = the fluid { $seen }
found-pan = on pan and magnets: { $debris }
found-codes = in the fault memory: { $codes }
short-did-exchange = We pushed { $litres } of new fluid in while the old came out.
short-did-both = We pushed { $litres } of new fluid in while the old came out, drained { $drained } from the pan and refilled { $refilled }.
short-did-exchange-drained = We pushed { $litres } of new fluid in while the old came out and drained { $drained } from the pan; nothing was refilled.
short-did-drain = We drained { $drained } from the pan; nothing was refilled.
short-did-refill = We refilled { $refilled }.
short-did-pan = We drained { $drained } from the pan and refilled { $refilled }.
short-no-exchange = No exchange was done.
short-did-nothing = No fluid was exchanged so far.
short-share = About { $share } of 100 parts of the fluid are now new (from { $least } to { $greatest }).
short-share-unknown = How much of the fluid is now new was not measured.
short-share-withheld = How much of the fluid is now new was not found out.
short-share-pan-open = How much of the fluid is new is said once the pan is refilled as far as it was drained.
short-share-litres = About { $share } of 100 parts of the fluid are now new (from { $least } to { $greatest }), by litres alone: nobody looked at the fluid.
short-level = The level was set at { $temperature }; allowed are { $least } to { $greatest }.
short-level-unset = The level is not known to be right; see the details.

## Exchange, in words

exchange-fill-unknown = How much the whole transmission holds is not known, so no share of new fluid is given.
exchange-means = { $looks ->
    [one] One look
   *[other] { $looks } looks
} through comparison tubes (circles). The line is the new fluid inside, not what the glass shows, since some parts exchange slowly; the band holds about 95 of 100 such jobs.
exchange-share = After the exchange { $value } of 100 parts were new (from { $least } to { $greatest }).
exchange-share-after-pan = After pan and refill { $value } of 100 parts are new (from { $least } to { $greatest }).
exchange-share-at-the-end = At the end { $value } of 100 parts are new (from { $least } to { $greatest }).
exchange-order = It is not certain that the pan was drained after the exchange, so no share of new fluid is given.
exchange-more-left = Stop the engine: { $litres } more has left than entered, both taken at 15 °C.
exchange-more-left-read = Stop the engine: { $litres } more has left than entered, as both are shown.
exchange-not-refilled = The pan was drained and not refilled yet.
exchange-refilled-in-part = { $drained } ran out of the pan and only { $refilled } are refilled yet.
exchange-display-unchecked = The litre display is taken as right within { $limit }; no check of it is recorded.
exchange-pan-only = Only the pan was changed; no fluid was pushed through.

# Shares, and what they rest on.
exchange-means-of = Looks at the fluid (circles): { $looks }. The line is the new fluid inside, not what the glass shows, since some parts exchange slowly; the band holds about 95 of 100 such jobs.
exchange-looks-by = { $count ->
    [one] one look
   *[other] { $count } looks
} by { $means ->
    [tube] comparison tube
    [photo] phone photo
   *[instrument] instrument
}
exchange-basis-litres = Nobody looked at the fluid: the share is by the litres alone and by what is usual for such an exchange.
exchange-basis-models = That is fewer than three spaced looks: the share is by two usual ways of flowing, fitted to what was seen.
exchange-two-ways = Two ways of flowing fit the looks; the share stands between them.
exchange-hopeful = Where the fluid flows in another way than the two usual ones, the share may be a little too hopeful.
exchange-best-of = At { $litres } several means were read; the { $means ->
    [tube] comparison tube
    [photo] photo
   *[instrument] instrument
} counts.
exchange-share-so-far = After { $litres } { $value } of 100 parts inside are new (from { $least } to { $greatest }).
exchange-share-expected = Forecast: after pan and refill about { $value } of 100 parts will be new (from { $least } to { $greatest }).
exchange-pan-first = The pan was changed before the exchange: its new litres were inside from the start, and how old the first fluid was that came out is not certain.
exchange-pan-first-few = The pan was changed before the exchange; below three spaced looks no share of new fluid is given then.

# Looks that do not fit.
exchange-went-back = The litre counter went back from { $from } to { $to }: one of them was read wrongly, or it was set back.
exchange-same-litres = Several looks at { $litres }: they count as one, at their mean.
exchange-same-litres-differ = The looks at { $litres } differ by more than looking can explain; they count as one, at their mean. Look again.
exchange-beyond-pushed = There is a look at { $litres }, but only { $pushed } were pushed in; look at the counter again.
exchange-no-uncertainty = The look at { $litres } has no uncertainty that can be used; it does not count.
exchange-at-most = A short bar with a line down from it is a look through fluid too dark to be read: at most so much of it was new.
exchange-withheld-amount = In and out differ by { $litres }: an amount is missing or wrong; no share is given.
exchange-withheld-contradict = The litres and the looks contradict each other: no share is given.
exchange-withheld-nothing = No share is given: no fresh fluid reached the glass.
exchange-withheld-at-once = No share is given: fresh fluid came back straight away, so what was seen says nothing of the fluid inside.
exchange-withheld-wrong-fluid = No share is given: some of what went in was the wrong fluid.
exchange-withheld-not-explained = No share is given: the looks do not fit any usual way of flowing, and they are fewer than three spaced ones.
exchange-saturated-all = At { $litres } the fluid was too dark to be read: nothing new was seen in it.
exchange-saturated = At { $litres } the fluid was too dark to be read: at least { $old } of 100 parts were old.
exchange-not-fitted = No usual way of flowing could be fitted to the looks; the share rests on the litres alone.
exchange-photo-unreadable = The photo at { $litres } gives no share: its white ground is black.
exchange-photo-alike = The photo at { $litres } gives no share: the fluid before and fresh fluid look too much alike in it.
exchange-photo-unexplained = The colours of the photo at { $litres } are no mixture of the fluid before and fresh fluid: foam, clouding, or another light. Take it again.
exchange-photo-brighter = In the photo at { $litres } the glass is brighter than the white ground: light is reflected in it. Take it again.
exchange-photo-exchanged = In the photo at { $litres } fresh fluid is darker than the fluid before: look whether the two were exchanged.
exchange-instrument-outside = The instrument showed { $shown } of 100 new at { $litres }; it is taken as { $taken }. Check its zero.

# While it runs.
exchange-inside-left = Stop the engine: only about { $litres } are left inside.
exchange-nothing-arrives = No fresh fluid has reached the glass after { $litres }: the cooler’s thermostat is closed, or it is the wrong line. Engine off, wait for the pressure to fall, then look. Do not raise the speed.
exchange-out-went-back = The outgoing counter went back from { $from } to { $to }: one of them was read wrongly, or it was set back.
exchange-more-entered = { $litres } more has entered than left: the vehicle arrived short, or a counter or hose is wrong; too much fluid foams.
exchange-ask-temperature = Read the temperature of the fluid: a thermostat opens only when it is warm.
exchange-fresh-at-once = Fresh fluid returns straight away: the hoses are exchanged, or it takes a short path. Engine off, wait for the pressure to fall, then look. Do not raise the speed.
exchange-stopped-changing = The fluid in the glass has stopped changing at { $share } of 100 new, since { $litres }.
exchange-not-explained = The looks do not fit any usual way of flowing: look again, and check hoses and litre counter.
exchange-when = { $when ->
    [handover] after pan and refill
   *[exchange] inside
}
exchange-target-reached = Enough: about { $value } of 100 parts are new { $when } (from { $least } to { $greatest }); the target is { $target }.
exchange-to-go = About { $likely } to go until { $target } of 100 parts are new { $when } (from { $least } to { $greatest }).
exchange-to-go-open = About { $likely } to go until { $target } of 100 parts are new { $when }; { $open ->
    [no-kit] it may take more
   *[kit] what is left may not suffice
}.
exchange-kit-short = The kit does not reach the target of { $target }: with the { $litres } that are left about { $value } of 100 parts are new { $when } (from { $least } to { $greatest }).
exchange-kit-short-no-refill = The kit does not reach the target of { $target }: even without any litre for the pan about { $value } of 100 parts are new { $when }.
exchange-kit-used = The kit does not reach the target of { $target }: about { $value } of 100 parts are new { $when } (from { $least } to { $greatest }), and no litre is left for pushing.
exchange-target-far = Another { $litres } do not reach the target of { $target } of 100 parts new { $when }; it may take more.
exchange-next-litre = The next litre brings about { $gain } of 100 parts.
exchange-enough = Enough pushed: the next litre would bring only { $gain } of 100 parts.
exchange-nothing-left = No litre is left for pushing; the rest is for { $pan ->
    [done] level and hoses, the pan is done
    [stays-on] level and hoses, the pan stays on
   *[to-come] pan, level and hoses
}.
exchange-left = { $litres } are left for pushing; the rest is for { $pan ->
    [done] level and hoses, the pan is done
    [stays-on] level and hoses, the pan stays on
   *[to-come] pan, level and hoses
}.
exchange-reserve-pushed = { $litres } of what is kept for { $pan ->
    [done] the level
    [stays-on] the level
   *[to-come] pan and level
} were pushed; nothing is left for pushing.
exchange-kit-exceeded = { $pushed } were pushed, but the kit holds { $kit }: is the counter right?
exchange-pushed-so-far = { $litres } were pushed so far.
exchange-no-share = No share of new fluid can be told: how much the whole transmission holds is missing. State it with the look-up of the variant (total fill).
exchange-result = Pushed { $litres }: { $value } of 100 parts inside are new (from { $least } to { $greatest }).
exchange-result-expected = Pushed { $litres }: { $value } of 100 parts inside are new (from { $least } to { $greatest }); after pan and refill about { $after }.
exchange-left-no-kit = How many litres are left for pushing is not known: the workshop’s settings state no kit.
exchange-left-no-refill = At most { $litres } are left for pushing, and less with the pan: no catalogue states what the pan takes.
exchange-cannot-watch = What leaves and what enters cannot be watched: only one figure is shown.

## Plan before the exchange

plan-advice-most = { $way }: most new fluid for the same litres.
plan-advice-only = { $way }: nothing else can be done with these litres.
plan-advice-alone = { $way }: the only way that can be compared while nobody knows what the pan holds.
plan-advice-close = { $way }: no other way brings clearly more new fluid, and the debris is seen before fluid is spent.
plan-advice-not-first = { $advice } Pan, then exchange ({ $signs }) { $why ->
    [litres] is not possible with these litres
   *[unknown] cannot be compared while nobody knows what the pan holds
}.
plan-advice-pan-first = { $name } ({ $signs }): the debris is seen before fluid is spent.
plan-basis-alone = Of { $kit } of new fluid { $level } are kept for the level and { $hose } stay in hoses and equipment: { $alone } to push.
plan-basis-litres = Of { $kit } of new fluid { $refill } are for the pan, { $level } for the level, and { $hose } stay in hoses and equipment: { $pushed } to push, or { $alone } where the pan stays on.
plan-basis-minutes = Minutes: { $hookup } for the hook-up, { $litre } a litre, { $pan } for the pan, { $drain } each time it is drained and filled; without level and drive ({ $source }).
plan-basis-shares = Nothing was seen yet: the shares follow from the litres, { $fill } in the transmission and what is usual; about 95 of 100 vehicles lie within from-to.
plan-basis-target = This workshop aims at { $target } of 100 parts.
plan-begun = Fluid was pushed in or ran out already; a plan is made before that.
plan-kit-for-target = How much new fluid is there was not stated: compared for { $kit }, with which exchange, then pan, comes to { $target } of 100 parts.
plan-kit-too-small = { $kit } of new fluid leave nothing to push after the reserves.
plan-kit-workshop = Compared for the { $kit } of new fluid that this workshop keeps for a job.
plan-kit-usual = How much new fluid is there was not stated: compared for { $kit }, of which { $pushed } are pushed.
plan-missing-fill = How much { $label } holds is not known, so nothing can be compared. State it with the look-up.
plan-missing-pan = How much the pan of { $label } holds is not known: only the exchange alone can be compared.
plan-missing-variant = Which transmission it is is not settled, so nobody knows how much it holds. Settle it first.
plan-says = { $way ->
    [exchange-only] The pan stays on: nobody sees the magnets, the old filter stays in.
    [exchange-then-pan] The magnets are seen only after the litres.
    [pan-then-exchange] The debris is seen before fluid is spent; some of the pan’s new fluid leaves again.
   *[drain-and-fill] No line is opened; the old fluid is only thinned, as far as it mixes in between. Magnets and filter are seen when the pan is off.
}
plan-sign-burnt = burnt smell
plan-sign-codes = fault code { $codes }
plan-sign-distance = { $distance } without a service known here
plan-sign-glitter = glitter in the sample
plan-way = { $way ->
    [exchange-only] Exchange only
    [exchange-then-pan] Exchange, then pan
   *[pan-then-exchange] Pan, then exchange
}
plan-way-drains = Drain and fill, { $times ->
    [one] once
   *[other] { $times } times
}

## Now: what changes what the bay does next

line-stop = A stop stands. { $next }
now-codes = Fault codes { $codes }: find these faults first, or a named person decides whether it goes on.
now-before-down = Before the vehicle comes down: { $point }
now-level-again = Level at { $clock }: { $attempt }. Look again.
now-refill = Refill { $amount }: what ran out of the pan.

## Bay page

bay-line = { $line ->
    [arrival] arrival, VIN, codes
    [drive-before] drive before
    [sample] lifted, sample
    [fluid] fluid and filter
    [hookup] hook-up
    [exchange] exchange
    [pan] pan, debris, standpipe
    [fitted] filter, seal, screws
    [refill] refill
    [gears] gears
    [level] level
    [plug] plug, dry, line closed
    [drive-after] codes, drive after
   *[hand-over] waste, close
}
bay-done = done
bay-left-out = left out
bay-put-off = put off
bay-not-stated = not stated
bay-agrees = agrees
bay-differs = does not agree
bay-codes = { $codes }
bay-codes-more = { $codes } and { $more ->
    [one] one more
   *[other] { $more } more
}
bay-drive = { $tick ->
    [normal] as it should be
    [late] late changes
    [harsh] harsh changes
    [flare] flare
    [shudder] shudder
    [noise] noise
    [slip] slips
    [bang] bang
   *[unknown] something else
}
bay-smell = { $smell ->
    [burnt] burnt smell
   *[sharp] sharp smell
}
bay-pushed = { $litres } pushed
bay-refilled = { $amount } in
bay-level-set = set at { $celsius }
bay-level-window = { $least } to { $greatest }

bay-jobs = Jobs in the bay
bay-jobs-none = No job is open.
bay-jobs-loading = The list is still being put together; a job may be missing for a moment.
bay-who = Who works?
bay-nobody = nobody chosen
bay-fluid = fluid { $fluid }
bay-variant-open = variant not settled
bay-steps = Steps
bay-now = What to know now
bay-title = { $job }: bay page
bay-unscripted = This page asks its questions with a script, and this browser runs none. Use another browser, or standpipe next in a terminal.
bay-nothing-left = Nothing is left to ask.
bay-closed = The job is closed.
bay-to-office = Record and handover are for the office.
bay-stop = Stop: { $said }
bay-before-down = Before the car comes down
bay-more-points = { $more ->
    [one] and one more
   *[other] and { $more } more
}
bay-caution-name = { $group ->
    [lifted] Vehicle lifted
    [line-opening] Cooler line
    [engine-running] Engine running
    [pan-and-hot] Hot fluid
    [gears-and-level] Gears
    [level] Under it
    [used-oil] Used oil
    [drained] Drained
    [drive] Driving
    [dipstick] Dipstick
   *[high-voltage] High voltage
}
bay-caution-line = { $group ->
    [lifted] locked, arms on the maker’s points; nobody under a moving lift.
    [line-opening] carries pressure; engine off before a coupling moves; catch the fluid.
    [engine-running] nobody in front of it; hair, sleeves, tools off belts and wheels; exhaust extracted.
    [pan-and-hot] burns; unmeasured it counts as hot: gloves, sleeves, face shield.
    [gears-and-level] driver in the seat, foot on the brake, nobody under it.
    [level] hot exhaust, moving shafts; second person at the key, nobody moves the selector.
    [used-oil] off skin and eyes; change soaked gloves; no flame.
    [drained] do not start or drive it until it is refilled.
    [drive] licence and belt; who drives operates no screen.
    [dipstick] hands, sleeves, cloth off belts and fan; nobody moves the selector.
   *[high-voltage] qualified persons only, orange cables untouched; key away while someone is under it.
}
bay-caution-marks = Cautions of this step
bay-ask-means = What is the temperature read with?
bay-means-outside = { $means }: does not count for the level
bay-no-persons = Nobody is listed who could answer. Whoever looks after the shop server lists who works here; then load this page again.
bay-gate = { $gate ->
    [exchange] the exchange
    [pan] the pan
    [refill] the refill
    [start-engine] starting the engine
    [level] the level
    [road-test] the drive
   *[close] closing
}
bay-yes = Go-ahead for { $gate }, { $clock }. It ends with the next answer.
bay-rests-on = It rests on this: { $basis }
bay-no = No go-ahead for { $gate }:
bay-nobody-overrides = { $said } Nobody can override this.
bay-decidable = { $said } A named person may decide this.
bay-pushed-so-far = at the last reading
bay-read-last = fluid, as read last
bay-read-again = read the temperature again
bay-to-refill = to refill
bay-chart = New fluid inside over the litres pushed
bay-chart-up = parts new of 100
bay-chart-marks = { $looked ->
    [0] • { $fed } read by an instrument
   *[other] ○ { $looked } looked at   • { $fed } read by an instrument
}
bay-chart-across = litres pushed
bay-estimate = About { $share } of 100 parts are new ({ $least } to { $greatest }).
bay-looks-hidden = The estimate comes with your answer.

bay-word-all-sent = all sent
bay-word-sending = sending…
bay-word-offline = offline since { $time }
bay-word-kept-one = 1 answer kept here
bay-word-kept-many = { $count } answers kept here
bay-word-offline-gate = No go-ahead is known while offline; an earlier one does not count.
bay-word-offline-now = The questions go on from the last answer, without go-aheads and without an estimate.
bay-word-not-joined = This page is no longer joined: { $said } Answers stay kept here. Join again, or tell the office.
bay-word-refused = An answer was not kept: { $said }
bay-word-outside = { $field }: { $value } is not between { $least } and { $greatest }. Nothing was kept; put it right and press again.
bay-word-too-long = { $field }: { $value } signs are too many, at most { $greatest } are taken. Shorten it.
bay-word-vin-length = VIN: { $value } characters, { $greatest } are needed. Nothing was kept; put it right.
bay-word-vin-letter = VIN: the letter { $value } stands in no VIN. Read it again; it is most often a { $digit }.
bay-word-vin-sign = VIN: ‘{ $value }’ stands in no VIN, only capital letters and digits do. Read it again.
bay-word-read-with = { $value } – change
bay-word-noticed = I have read it
bay-word-n-more = and { $count } more
bay-word-all-notices = To know before you go on
bay-word-as-above = see above.
bay-word-see-above = What stands above is against it.
bay-word-answered = What was answered
bay-word-which-answer = Which answer is wrong?
bay-word-which-of-line = { $line }: which answer is wrong?
bay-word-all-answers = all answers
bay-word-no-answers = Nothing was answered here yet.
bay-word-needs-network = This needs the network; it is offline now. Answers can be put right when it is back.
bay-word-changed = Another tablet or program answered this question.
bay-word-later-all = What was put off is asked again.
bay-word-too-old = What was read before was read too long ago; it is asked again.
bay-word-yes = yes
bay-word-read-it = I have read it: { $group }
bay-word-read-and-yes = I have read it ({ $group }), and yes
bay-word-done = done
bay-word-none = none
bay-word-chosen = as chosen
bay-word-empty = leave it empty
bay-word-left-empty = left empty
bay-word-confirmed = confirmed
bay-word-erase = erase
bay-word-minus = minus
bay-word-back = back
bay-word-photo = photo
bay-word-photo-waits = The photo waits for the network; keep this page open until it is sent.
bay-word-later = later
bay-word-why = why?
bay-word-skip = skip
bay-word-more = more
bay-word-other = other
bay-word-go-on = go on
bay-word-stay = do not skip it
bay-word-skip-why = Why is it left out?
bay-word-skip-never = Safety rests on this step: it can be put off, but it is never left out.
bay-word-which-step = Which step?
bay-word-stop-job = stop the job
bay-word-all-jobs = all jobs
bay-word-nothing-before = Nothing was answered before on this page. Older answers stand under ‘other’.
bay-word-former = You said: { $said }
bay-word-withdraw = withdraw it
bay-word-answer-again = answer it again
bay-word-leave = leave it as it is
bay-word-put-right-why = Why is it put right?
bay-word-decide = decide
bay-word-decide-what = What do you decide by name?
bay-word-decide-why = Why? It is printed on the record with your name.
bay-taken-back = taken back
bay-signed = signed
bay-word-pin = Your PIN, { $person }
bay-word-sign-later = sign later
bay-word-proposed = Proposed: { $value } ({ $why })
bay-word-nothing-proposed = Nothing is proposed here: look, and say what you see.
bay-word-safety = Safety rests on this; it is confirmed by who looked.
bay-word-one-unit = End the number with its unit.
bay-word-number-first = Press the number first, then { $unit }.
bay-word-needed = An answer is needed here; nothing is proposed.
bay-word-alone = ‘{ $choice }’ does not go together with another. Take back what is wrong.
bay-word-more-asked = Asked too in this step: { $fields }.
bay-word-no-more = Nothing else is asked in this step.
bay-word-stop-why = Stop the job. Why?
bay-word-stop-customer = What does the customer say?
bay-word-stop-sure = The job ends here, with no exchange done.
bay-word-stop-do = stop it and close the job
bay-word-stop-not = go on with the job
bay-word-steps-left = { $count } steps left
bay-word-no-storage = This browser keeps nothing (private window, or its storage is off): an answer given while offline is lost when the page is closed.
bay-word-full = Too many answers are kept here. Bring the tablet to the network before you go on.
bay-skip-reason = { $reason ->
    [not-possible] it was not possible
    [not-ordered] it was not ordered
    [not-safe] it was not safe
    [tool-missing] the tool or instrument is missing
   *[later] it will be done later
}
bay-correction-reason = { $reason ->
    [typed] typed wrongly
    [read] read wrongly
   *[looked] looked again and saw something else
}
bay-stop-reason = { $reason ->
    [fault] a fault that a fluid service does not repair
    [inside] what was seen in the fluid, the pan or the drive says: look inside first
    [leak] a leak
    [declined] the customer does not want it
    [missing] the right fluid or part is not here
   *[unsafe] it is not safe to go on
}
bay-customer-said = { $said ->
    [informed] was informed
    [agrees] agrees
    [declines] declines what we advise
   *[not-asked] could not be asked yet
}

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
balance-taken = taken out at the level
balance-taken-weighed = taken out at the level ({ $amount })
balance-carried-out = carried out with parts (taken, not measured)
balance-out-not-measured = What came out during the exchange was not measured, so in and out cannot be compared.
balance-unfinished = In and out are compared when what was drained is refilled.
balance-within = The difference of { $size } is within the uncertainty of the readings (± { $within }): nothing says that the vehicle arrived short or overfull.
balance-clear = { $size } more went { $more } than { $more ->
    [in] out
   *[out] in
}, from { $least } to { $greatest }: more than the readings’ uncertainty explains.
balance-meaning = { $more ->
    [in] The level is right now, so that much was missing on arrival, or fluid was lost unseen.
   *[out] The level is right now, so that much was too much on arrival, or an amount was read wrongly.
}
balance-implausible = That is more than a vehicle can arrive short or overfull by; an amount is missing or wrong.
balance-meaning-open = The level is not known to be right, so it cannot be said what the difference means.
balance-small = That is half a litre or less, too little to call the vehicle short or overfull.
balance-arrived = The vehicle arrived { $size } { $how ->
    [short] short
   *[over] overfull
} (from { $least } to { $greatest }).
balance-unexplained = { $size } (from { $least } to { $greatest }) { $more ->
    [in] went in and is not accounted for
   *[out] came out beyond what is accounted for
}: look at the amounts again.

## Please note

note-informed = You were told on { $day }: { $topic }.
note-agreed = You agreed on { $day }: { $topic }.
note-declined = You declined on { $day } what we advised: { $topic }.
note-declined-stop = The service ended on { $day } without an exchange; you declined what we advised.
note-nothing-arrived = While we pushed fluid in, no fresh fluid came out again: how much inside is new is not known, perhaps very little.
note-fresh-at-once = The fluid that we pushed in came back straight away: how much inside is new is not known, perhaps very little.
note-not-driven = The vehicle was not driven after the work: { $reason }.
note-screws-reused = { $group }: { $reused } of { $all } were used again; responsible: { $person }.
note-screws-reused-undecided = { $group }: { $reused } of { $all } were used again; nobody decided on it.
note-plug-seal-reused = The seal of the level plug was used again; responsible: { $person }.
note-parts-kept = Not renewed although the kit has them: { $parts }; responsible: { $person }.
note-leak = When we looked for leaks it was { $found ->
    [damp] damp
   *[dripping] dripping
}.
note-part-seen = We saw on your vehicle: { $part }, { $found }.
note-arrived-short = Your vehicle arrived { $size } short of transmission fluid (from { $least } to { $greatest }). It went somewhere: have the leak looked for.
note-drops = Look under the parked vehicle for drops after about 100 km, and call us if you see any.
note-repairs-nothing = This service does not repair worn parts.
note-stop-driving = If gear changes become harsh, the vehicle slips or a warning lamp comes on, stop safely and call us.
note-instructions-first = The vehicle maker’s instructions, local rules and licensed practice come first; where they differ from this record, they win.

## Cautions

caution-lift = Lift locked, arms on the maker’s points, nobody under a moving lift.
caution-hot-fluid = Hot fluid burns in seconds from 50 °C on; unmeasured it counts as hot. Gloves, sleeves, face shield; let it cool. Smell only cool fluid, fanned towards you. Lint-free cloth, no cleaner; absorbent on spills; no flame, no grinding.
caution-burns = Fluid is hot enough to burn in seconds.
caution-line = The cooler line carries pressure: engine off before a coupling is opened or closed; catch the fluid, cap both ends, keep dirt out.
caution-engine = Engine running: exhaust extracted, fan on, wheels free, brake set, nobody in front of the vehicle; hair, sleeves and tools away from belts, shafts and wheels.
caution-gears = Gears: driver in the seat, foot on the brake, nobody under the vehicle; P and brake before anyone goes under. Level and plug with the engine running: hot exhaust beside the plug, moving shafts, loose sleeves; a second person at the key, nobody moves the selector.
caution-dipstick = Dipstick with the engine idling: hands, sleeves and cloth clear of belts and fan, which can start by itself; the fluid on it is hot; nobody moves the selector.
caution-and-dipstick = { $said } { $dipstick }
caution-skin = Keep used oil off the skin and eyes: eye protection on, change soaked gloves, no oily cloth in a pocket; wash with soap, not with solvent.
caution-drained = Between drain and level: do not drive, do not tow with driven wheels on the ground.
caution-drive = Drive only with a licence and a seat belt; nobody who drives operates a screen.
caution-high-voltage = High voltage: only a qualified person switches off, isolates, locks, waits and tests dead; orange cables stay untouched. The engine can start by itself: the key stays away while someone is under the vehicle.
caution-of-maker = The vehicle maker says: { $said }
cautions-together = { $first } { $next }
caution-maker = The vehicle maker’s instructions, local rules and licensed practice come first.

## Done and fitted

done-fluid = Fresh fluid
done-fluid-named = Fluid { $name }
done-lots = lot { $lots }
done-litres = { $litres }
done-filter = New filter, code compared
done-code = { $code }
done-kit-all = All of the kit
done-kit-except = All of the kit, except { $parts }
done-parts = New parts: { $parts }
done-list = { $details }
done-new = new
done-magnets = Magnets
done-plug = Level plug

## Lists of the record

listed-acknowledged = { $group }: read by { $persons }
listed-skipped = { $step }: { $reason } ({ $person })
listed-decision = { $point }: { $reason } (decided by { $person }, { $time })
listed-decision-signed = { $point }: { $reason } (decided by { $person }, { $time }, signed with PIN)
listed-decision-unsigned = { $point }: { $reason } (stated by { $person }, { $time }; not signed, so it does not count)

## Figures

figure-after-exchange = New fluid inside after the exchange
figure-after-pan = New fluid inside after pan and refill
figure-at-the-end = New fluid inside at the end
figure-share-now = New fluid inside now
figure-after-pan-expected = New fluid inside after pan and refill, a forecast
figure-kept = New fluid kept up to the last look, by the balance alone
figure-fluid-in = Fluid put in, at 15 °C
figure-fluid-out = Fluid that came out, at 15 °C
figure-difference = Put in minus came out, at 15 °C
figure-share = { $value } of 100 parts (from { $least } to { $greatest })
figure-litres = { $value } L (± { $half })
figure-refill = Still to refill
figure-as-read = { $amount }

## Next due

next-due-both = The next fluid service is due at { $distance } or on { $date }, whichever comes first.
next-due-distance = The next fluid service is due at { $distance }.
next-due-date = The next fluid service is due on { $date }.
next-due-after-both = The next fluid service is due { $distance } after this one or on { $date }, whichever comes first; the distance on the vehicle was not noted.
next-due-after = The next fluid service is due { $distance } after this one; the distance on the vehicle was not noted.
next-due-distance-alone = { $distance }
next-due-interval = { $distance } or { $months }
next-due-months = { $months ->
    [one] one month
   *[other] { $months } months
}
next-due-workshop = That is this workshop’s interval of { $interval } ({ $source }).
next-due-maker = The vehicle maker’s interval of { $interval } counts; this workshop does not go beyond it ({ $source }).
next-due-maker-use = The vehicle maker’s interval of { $interval } for a vehicle that is used “{ $load }” counts; this workshop does not go beyond it ({ $source }).
next-due-load = { $used }: { $factor } of the workshop’s { $whole } for a vehicle that is used “{ $load }” ({ $source }).
next-due-load-unknown = Use was stated as “{ $load }”, for which this workshop has no factor; its distance stands as it is.
next-due-load-not-longer = The distance is not made longer for easy use, since the vehicle maker’s interval is not in our catalogue; where it is shorter, it counts.
next-due-maker-not-stated = The vehicle maker’s interval is not in our catalogue; where it is shorter, it counts.
next-due-level-open = When the next fluid service is due is said once the level is set.
next-due-not-stated = No interval is stated in our papers: the next fluid service is due by the vehicle maker’s plan.

# By the fluid temperatures over the distance
next-due-temperatures = By the temperatures that the control unit kept, the fluid ages { $factor } times as fast as at { $reference }; this workshop’s distance is divided by that.
next-due-temperatures-idle = By the temperatures that the control unit kept, the fluid ages { $factor } times as fast as at { $reference }; that does not change the distance.
next-due-assumed = This is { $assumption }.
next-due-temperatures-not-load = The use stated as “{ $load }” is not counted as well, since the temperatures hold it.
ageing-assumption = assumed, not measured: at { $hotter } fluid ages { $factor } times as fast as at { $reference } (activation energy { $energy }; { $source })

## Not measured, not done

missing-exchange = No fluid was pushed through.
missing-share = Share of new fluid: not measured.
missing-looks = Looks at the fluid that came out during the exchange: none.
missing-out = Fluid that came out during the exchange: not measured.
missing-pan = Fluid from the pan: not measured.
missing-level = Level inside the temperature window: not looked at, or no look counts.
missing-sample-before = Sample before the service: not looked at.
missing-sample-after = Sample after the service: not looked at.
missing-filter = Code of the new filter: not compared.
missing-standpipe = Standpipe as seen at the pan: not compared.
missing-codes = Fault codes { $when ->
    [before] before the service
    [after] after the service
   *[both] before and after the service
}: not read.
missing-drive = Drive { $when ->
    [before] before the service
    [after] after the service
   *[both] before and after the service
}: not recorded.
missing-torque-screws = Torque of the pan’s screws: not recorded.
missing-torque-plug = Torque of the level plug: not recorded.
missing-leak = Look for leaks: not recorded.
missing-fuel = Fuel consumption: not measured.
missing-laboratory = Particles, acid number, water: no laboratory report.
missing-laboratory-some = Not in the laboratory report: { $what }.
missing-figure = { $figure ->
    [particles] particles
    [acid] acid number
    [water] water
   *[viscosity] viscosity
}

## What gates need

gate-basis-entries = The entries of this job.
gate-basis-decision = Decided by { $person }: { $point } ({ $reason }).
gate-basis-decision-signed = Decided by { $person }, signed with PIN: { $point } ({ $reason }).
open-sign-decision = { $point } is decided by { $person } but not signed; sign it in the bay with: standpipe as { $code } --pin
open-sign-correction = The correction of entry { $seq } by { $person } is not signed; sign it in the bay with: standpipe as { $code } --pin
open-sign-decision-unnamed = { $point } is decided but not signed; whoever decided it signs it in the bay.
open-sign-correction-unnamed = The correction of entry { $seq } is not signed; whoever made it signs it in the bay.
open-closed-without = Closed as ‘no exchange done’ although { $litres } were pushed in: correct the closing, or the readings.
open-issue = Issue the record.
open-issue-again = The job has changed since edition { $edition } of the record: issue it again.
open-handover = Hand over the vehicle and the record.
open-handover-again = Edition { $issued } was issued after edition { $given } was handed over: give the customer the new one.
need-wrong-fluid-inside = { $what } went in and do not belong inside: a named person decides how it is put right, by the vehicle maker’s instructions.
need-wrong-fluid-drained = Drain the pan: since it was drained last, fluid went in that does not belong inside ({ $what }).
need-wrong-fluid-worked-on = { $what } went in and do not belong inside, and neither was the pan drained since nor { $own } pushed through.
need-put-right = { $what } went in and do not belong inside. { $left } A named person decides whether it is put right, by the vehicle maker’s instructions.
need-codes-before = Read the fault memory, or say why not.
need-codes-after = Read the fault memory again, or say why not.
need-drive-before = Drive before the work, or say why not.
need-drive-after = Drive after the work, or say why not.
need-sample-before = Draw a sample and look at it, or say why not.
need-repair-first = Fault code { $code }: a fluid exchange does not repair this fault; find it first.
need-signed-decision = Fault code { $code } bears on this work; a named person decides whether it goes on.
need-maker-code = Fault code { $code } is the maker’s own; a named person looks it up and decides.
need-look-inside = What was seen in the fluid, the pan or the drive says: look inside before exchanging.
need-caution-lifted = Read the cautions for the lifted vehicle.
need-caution-line = Read the cautions for opening the line.
need-caution-engine = Read the cautions for the running engine.
need-caution-pan = Read the cautions for pan and hot fluid.
need-caution-gears = Read the cautions for gears and level.
need-lift-locked = Lock the lift and confirm it.
need-high-voltage = The vehicle has a high-voltage system: a qualified person isolates it by the maker’s procedure and confirms it by name.
need-direction = Hook up the equipment and test the direction of flow.
need-engine-off = Switch the engine off and confirm it.
need-line-closed = Close the cooler line with clip and cap and confirm it.
need-standpipe = Look at the standpipe in the pan, or say why not.
need-old-filter = Look at the old filter, or say why not.
need-parts = Fit the new filter and the new pan seal.
need-screws = Tighten the pan’s screws.
need-pan-closed = Close the pan.
need-refill = { $drained } ran out and { $refilled } was refilled. Refill what ran out: a dry pump ruins the transmission.
need-clear = Tools and people clear of the vehicle: look and confirm it.
need-gears = Driver in the seat, foot on the brake, nobody under the vehicle: move the selector through all positions.
need-temperature = Read the temperature of the fluid; the plug is opened only between { $least } and { $greatest }.
need-temperature-window = The fluid has { $read }; the plug is opened only between { $least } and { $greatest }.
need-temperature-dipstick = Read the temperature of the fluid; the dipstick counts only between { $least } and { $greatest }.
need-temperature-window-dipstick = The fluid has { $read }; the dipstick counts only between { $least } and { $greatest }.
need-screws-torque = The pan’s screws were tightened with { $set }; the catalogue says { $asked }. Tighten them as the vehicle maker says or put the entry right; else a named person decides.
need-plug-torque = The level plug was tightened with { $set }; the catalogue says { $asked }. Tighten it as the vehicle maker says or put the entry right; else a named person decides.
need-tool = { $why } { $used ->
    [plug] The level plug was tightened with it
   *[pan-screws] The pan’s screws were tightened with it
}: do it again with a tool that is in order, or have it checked; else a named person decides.
need-screws-count = { $counted } screws of the pan were tightened; the catalogue counts { $asked }. Count them again or put the entry right; else a named person decides.
need-rows-missing = The recording tool kept nothing of screw { $screws }. Tighten it and send the rows again; else a named person decides.
need-rows-torque = The recording tool kept another torque than { $set } for screw { $screws }. Tighten it again; else a named person decides.
need-rows-order = The recording tool kept another order than { $order }. Tighten them again in order; else a named person decides.
need-screws-order = The order of the pan’s screws was not kept. Loosen them and tighten them again in order; else a named person decides.
need-screws-used-again = { $group }: { $reused } of { $all } for one use were used again. Fit new ones; else the responsible person decides by name.
need-equipment-other = Equipment { $equipment } still holds about { $litres } of { $other }; rinse it with { $own } or empty it first.
need-equipment-went-in = About { $litres } of { $other } from equipment { $equipment } went in first; a named person decides whether it goes on.
need-which-equipment = Say with the hook-up which equipment it is ({ $known }); else a named person decides.
need-equipment-rinse = Equipment { $equipment } was rinsed with { $rinsed } only and held about { $litres } of { $other } before. Rinse with at least as much, or a named person decides.
need-equipment-contents = Say what equipment { $equipment } still holds; if it is not { $fluid }, rinse or empty it first.
need-plug = Close the level plug with a new seal.
need-leak-check = Look whether it is dry.
need-dry = It is not dry: find where the fluid comes from.
need-waste = Write the waste down, or say why not.

# Lots that go in.
lot-named = { $code }, lot { $lot }
lot-named-plain = lot { $lot }
need-lot-recalled = Recalled ({ $reason }): { $what }. Do not use it; fetch another lot and read its container.
need-lot-expired = Past its last day: { $what }, to be used until { $last }. Fetch another lot; else a named person decides.
lot-of-other-fluid = The register knows lot { $lot } as { $register }, but the container says { $container }. Look at the container and the delivery note again; a wrong entry is corrected.
lot-of-other-code = The register knows lot { $lot } as { $register }, the container says { $container }: nothing says whether that is the same fluid. Look at the container and the delivery note.
lot-used-recalled = It had been recalled ({ $reason }) before it was used: { $what }.
lot-recalled-later = Recalled since it was used ({ $reason }): { $what }. Call the customer.
lot-used-expired = Used after its last day: { $what }, to be used until { $last }.
lot-read-recalled = Recalled ({ $reason }): { $what }. It was read on a container of this job, and nothing is known to have been drawn from it. Look whether that is so.
lot-unknown = Not in the register: { $what }. Write the delivery down.
lot-not-read = The lot of { $code } was not read; a recall would not find this vehicle.

## Steps: what is asked

step-odometer = What does the distance counter show?
step-vin = Read the VIN on the body.
step-variant = Which transmission is it?
step-codes-before = Read the fault memory, before the work.
step-drive-before = Drive it before the work. How does it change gear?
step-caution-lifted = Before you go under the vehicle: read this.
step-lift-locked = Lift locked, arms on the maker’s points?
step-high-voltage = High-voltage system: are you qualified, did you isolate, lock, wait and test it dead yourself by the maker’s procedure, and is the key away?
step-sample-before = Draw some fluid. How does it look and smell?
step-fluid = Read the code on the container of the new fluid.
step-filter = Read the code on the new filter.
step-caution-line = Before a line is opened: read this.
step-hookup = Connect the exchange equipment and test the direction of flow.
step-caution-engine = Before the engine runs: read this.
step-exchange = Exchange: read the litre display and look at the fluid that comes out.
step-engine-off = Engine off, cooler line closed with clip and cap?
step-caution-pan = Before the pan comes off: read this.
step-pan = Let the pan run out and measure it.
step-standpipe = Look at the standpipe in the pan.
step-old-filter = Look at the old filter.
step-fitted = What did you fit new?
step-screws = Tighten the pan’s screws.
step-refill = Refill what ran out.
step-clear = Pan closed, tools and people clear of the vehicle?
step-caution-gears = Before gears and level: read this.
step-gears = Start the engine and move the selector through all positions.
step-level-added = Nothing came at the overflow: add fluid. How much?
step-level-added-dipstick = The dipstick shows too little: add fluid. How much?
step-temperature = Read the temperature of the fluid now.
step-temperature-window = Read the temperature of the fluid now; the level counts from { $least } to { $greatest }.
step-temperature-hot = { $read } is too hot, the level counts from { $least } to { $greatest }. Leave the plug closed, do something else, and read the temperature again later.
step-temperature-cold = { $read } is too cold, the level counts from { $least } to { $greatest }. Leave the plug closed, let the engine idle, and read the temperature again.
step-temperature-hot-dipstick = { $read } is too hot, the level counts from { $least } to { $greatest }. Do something else, and read the temperature again later.
step-temperature-cold-dipstick = { $read } is too cold, the level counts from { $least } to { $greatest }. Let the engine idle, and read the temperature again.
step-level = { $method ->
    [side_hole] Open the plug at the side. What comes out?
    [dipstick] Pull the dipstick, wipe it, put it in and pull it again. Where does the fluid stand?
   *[standpipe_overflow] Open the level plug. What comes out?
}
step-level-at = { $method ->
    [side_hole] The fluid has { $read }: open the plug at the side. What comes out?
    [dipstick] The fluid has { $read }: pull the dipstick, wipe it, put it in and pull it again. Where does the fluid stand?
   *[standpipe_overflow] The fluid has { $read }: open the level plug. What comes out?
}
step-plug = Close the level plug.
step-leaks = Wipe everything dry and look for leaks.
step-codes-after = Read the fault memory again, after the work.
step-drive-after = Drive it. How does it change gear now?
step-waste = Used fluid into its container.
step-closing = All done? Close the job.

ask-vin = All 17 characters
ask-last-eight = Last 8 characters
ask-vin-again = All 17 characters once more: the check digit does not fit
ask-as-built = Is it the transmission that the vehicle was built with?
ask-dye = Which colour?
ask-variant = Code of the variant
ask-by-rule = By the catalogue’s rule for this VIN it is { $name }. What does the plate on the transmission say?
ask-settled-by = How do you know?
ask-source = Where did you look it up?
ask-own-fluid = The only fluid that may go in, as looked up
ask-total-fill = The whole transmission holds, as looked up
ask-level-least = The level counts from
ask-level-greatest = The level counts up to
ask-plate = Does the plate on the transmission agree?
ask-codes-state = What is stored?
ask-codes = The codes, with commas between
ask-ticks = What do you feel?
ask-drive = What do you feel?
ask-warmth = The transmission is
ask-code = Code as you read it
ask-fluid-code = Which code do you read on the container?
ask-filter-code = Which code do you read on the new filter?
ask-old-filter-code = Which code do you read on the old filter?
ask-standpipe-code = Which standpipe do you see?
ask-lot = Lot
ask-sample-place = Drawn at
ask-hookup = Where is it connected, and which way does the fluid flow?
ask-hookup-place = Connected at
ask-adapter = Adapter
ask-direction = Is the direction of flow tested?
ask-display = What does the litre display show?
ask-pushed = Litres pushed in so far
ask-tube = Which comparison tube looks most like it? (parts of new fluid)
ask-last = Was that the end of the exchange?
ask-out = Litres that came out
ask-drained = How much ran out
ask-debris = What lies in the pan and on the magnets?
ask-fitted-how = What is fitted new?
ask-kit = Code of the kit
ask-fitted = New are
ask-excepted = Except
ask-screws-how = How were they tightened?
ask-screws = Screws tightened
ask-new-screws = Of these new
ask-torque = Torque set
ask-order = In the maker’s order?
ask-tool = Tool
ask-refilled = How much went in
ask-added = How much was added
ask-container = From which container?
ask-with-what = Code on its container
ask-gears = Who sits in the driver’s seat, foot on the brake? Is nobody under the vehicle?
ask-driver = In the driver’s seat (code of the person)
ask-nobody-under = Nobody under the vehicle?
ask-temperature = Temperature of the fluid
ask-overflow = { $method ->
    [side_hole] At the hole in the side you see
   *[standpipe_overflow] At the overflow you see
}
ask-dipstick = The fluid stands
ask-level-conditions = Engine idling, vehicle level, selector in P?
ask-idling = Is the engine idling?
ask-vehicle-level = Does the vehicle stand level?
ask-selector = Where is the selector?
ask-caught = Fluid caught, if measured
ask-taken = Fluid taken out, if measured
ask-plug-how = How was it closed?
ask-seal-new = New seal?
ask-leaks-how = What do you see?
ask-leaks = At plug, pan and line you see
ask-line-closed = Is the cooler line closed with clip and cap?
ask-waste = How much in all
ask-outcome = How does it end?
ask-odometer = Distance shown
ask-load = Mostly used

choice-plate = { $answer ->
    [yes] the plate agrees
    [no] the plate says something else
   *[not-seen] the plate cannot be read
}
choice-plate-shows = { $plate }, it agrees
choice-another-variant = it is another variant
choice-another-fitted = another transmission was fitted
choice-another-dye = another colour
choice-code = { $code }
choice-code-named = { $code }, { $name }
choice-another-code = another code
choice-drives-well = changes as they should be, warm
choice-drives-else = something else
choice-hookup = { $place ->
    [cooler-line] in the cooler line, direction tested
    [transmission] at the transmission, direction tested
   *[untested] the direction is not tested
}
sample-drawn-at = { $place ->
    [cooler-line] the cooler line
    [pan] the pan or its plug
   *[filler] the filler opening or dipstick
}
choice-display-zero = it is at zero, nothing is pushed in yet
choice-display-more = it shows litres already
exchange-goes = { $answer ->
    [yes] yes, that was the end
   *[no] no, go on
}
choice-hookup-adapter = { $place ->
    [cooler-line] in the cooler line with adapter { $adapter }, direction tested
   *[transmission] at the transmission with adapter { $adapter }, direction tested
}
choice-hookup-noted = { $choice }: { $note }
choice-kit-all = all of kit { $kit }: { $parts }
choice-screws-all = all { $count }, all new, { $torque }, in the maker’s order
choice-plug-all = new seal, { $torque }
choice-otherwise = otherwise
choice-container = { $code }, { $lot }, the one that was compared
choice-lot = lot { $lot }
choice-no-lot = no lot written down
choice-another-container = another container
choice-gears-clear = { $name }, and nobody is under the vehicle
choice-somebody-else = somebody else, or not clear yet
choice-level-all = yes, all three
choice-level-each = no, or selector in N
choice-dry-and-closed = dry, and the cooler line closed with clip and cap

why-kit = all of the usual kit
why-catalogue = from the catalogue
why-single-use = screws for one use are all new
why-last-tool = the tool used last
why-as-drained = what ran out of the pan
why-came-out = what came out so far

step-name = { $step ->
    [odometer] distance
    [vin] second reading of the VIN
    [variant] transmission variant
    [codes-before] fault codes before
    [drive-before] drive before
    [sample-before] sample before
    [sample-after] sample after
    [fluid] code on the fluid container
    [filter] code on the new filter
    [equipment-contents] what the equipment still holds
    [hookup] hook-up of the exchange equipment
    [exchange] exchange
    [pan] pan
    [pan-seen] standpipe in the pan
    [old-filter] old filter
    [fitted] new parts
    [screws] pan screws
    [refill] refill
    [level-added] fluid added at the level
    [codes-after] fault codes after
    [drive-after] drive after
    [waste] waste
    [closing] closing
   *[any] { $name }
}

answer = { $answer ->
    [yes] yes
    [no] no
   *[not-seen] could not be seen
}
tube = { $percent } of 100 new

## Tallies: store, lots, recalls, waste, the month

period = { $name }
remarks = { $remarks }
fluid-container = { $container ->
    [drum] drum
   *[can] cans
}
use-purpose = { $purpose ->
    [exchange] pushed in
    [refill] refilled
    [level] added at the level
    [compared] read on a container, litres not told apart
    [kit] kit fitted
    [filter] filter fitted
   *[other] used
}

# Headings of columns.
column-amount = amount
column-carrier = taken by
column-closed-on = closed on
column-code = code
column-collected = collected
column-computed = should be there
column-container = container
column-containers = how many
column-counted = counted
column-counted-on = counted on
column-date = date
column-density = density
column-destination = destination
column-difference = more or less
column-document = document
column-drawn = drawn
column-due-kilometres = due at
column-due-on = due on
column-event = entry
column-generated = came in
column-held = held
column-job = job
column-jobs = jobs
column-kilograms = mass
column-lacking = what is lacking
column-last-day = use until
column-last-job = last job
column-litres = volume
column-looked-at = looked at
column-lot = lot
column-month = month
column-name = name
column-not-weighed = not weighed
column-opened-on = opened on
column-person = who
column-pieces = pieces
column-plate = plate
column-purpose = used for
column-reason = reason
column-received = received
column-said = remarks
column-state = state
column-there = should be there
column-there-now = there now
column-told = customer told
column-vin = VIN
column-waste-code = waste code
column-what = what
column-why = because of

# Store.
store-title = Store, { $site }
store-heading = What is in the store
store-empty = Nothing was received, counted or drawn yet.
store-no-lot = no lot noted
store-all-lots = all lots
store-all-of = All of { $code }
store-unnamed = fluid not named
store-without-lot = { $code }, no lot noted
store-first = { $what }: { $remarks }.
store-recalled = recalled
store-past-last-day = past its last day
store-not-kept = drawn, but never received or counted here
store-never-received = no delivery was written down
store-overdrawn = { $amount } more were drawn than came in
store-drawn-without-lot = { $amount } drawn without a lot; they came out of one of the lots
store-difference = { $what }: on { $day } { $counted } were counted and { $computed } should have been there: { $off } { $way ->
    [less] less
   *[more] more
}.
store-difference-since = { $what }: on { $day } { $counted } were counted and { $computed } should have been there: { $off } { $way ->
    [less] less
   *[more] more
} since { $since }.
store-note-litres = Litres as they were poured, at the temperature of the bay; what was weighed is turned into litres by the density of the fluid.
store-note-counts = Received, less drawn, and more or less by all counts, is what should be there. A count of all lots together stands where no lot is noted.

# One lot, or one vehicle.
lot-title = Lot { $lot }
lot-vehicle-title = Lots that { $about } got
lot-vehicle-heading = Lots in this vehicle
lot-is-recalled = Recalled on { $day }: { $reason }
lot-is-past = It was to be used until { $day }.
lot-until = To be used until { $day }.
lot-job-count = { $count ->
    [0] No job used it.
    [one] One job used it.
   *[other] { $count } jobs used it.
}
lot-deliveries = Deliveries and counts
lot-no-delivery = No delivery of this lot was written down.
lot-event-received = received
lot-event-counted = counted
lot-vehicles = Vehicles that got it
lot-nobody = No vehicle got it.
lot-read-count = { $count ->
    [one] One job read it on a container; nothing is known to have been drawn from it there.
   *[other] { $count } jobs read it on a container; nothing is known to have been drawn from it there.
}
lot-note-compared = Litres pushed in stand with the lot of the container that was read last before them; where several cans were read one after the other, the others stand without litres.

# Recalls and calls.
recall-title = Recalls and calls, { $site }
recall-nobody = No customer has to be called.
recall-count = { $count ->
    [0] Every customer was called, and every work was looked at.
    [one] One job is still to be called about or looked at.
   *[other] { $count } jobs are still to be called about or looked at.
}
recall-lot-not-read = The lot was not read, so that nobody can say whether these jobs got a recalled one: { $jobs }.
recall-lots = Lots that were recalled
recall-none = No lot was recalled.
recall-any-code = any
recall-stands = stands
recall-lifted = lifted
recall-calls = Customers to call
recall-no-calls = No job is concerned.
recall-equipment = { $lot }: in equipment { $equipment } when it was pushed through
recall-tool = tool { $tool }, { $used }: found out of its limits afterwards
recall-litres = { $what }, { $litres }
recall-not-yet = not yet
recall-on = { $day }
recall-told = { $day }, { $said ->
    [informed] informed
    [agrees] agrees
   *[declines] declines
}
recall-looked-at = { $day }, { $found }
recall-note = Done with is a job whose customer was told and whose work was looked at and found in order or put right, or whose customer declined. A later job of the same vehicle counts too.

# What a tally leaves out.
tally-jobs-left-out = Not counted, because they cannot be read: { $jobs }. Tell whoever looks after the shop server.
tally-rows-not-shown = { $count ->
    [one] One line is not shown here: its job was closed long ago, and the bay no longer sees it. Ask the office.
   *[other] { $count } lines are not shown here: their jobs were closed long ago, and the bay no longer sees them. Ask the office.
}

# Waste.
waste-title = Register of waste, { $period }, { $site }
waste-held-below = { $code }: the register shows { $kilograms } too little. More was collected than was written down; look for lines that are missing.
waste-mixed = Container { $container } holds { $held } and { $added }: unlike waste is kept apart. Speak with the collector before more goes in.
waste-mixed-brake-fluid = Container { $container }: brake fluid never goes into a used-oil container. Speak with the collector before more goes in.
waste-heat-transmission = { $code }: 13 03 is for insulating and heat-transmission oils, gearbox oil is 13 02. Look at the setting and the documents.
waste-by-code = By waste code
waste-by-month = By month
waste-lines = What was put into containers
waste-collections = What was collected
waste-nothing = No waste was written down.
waste-no-collection = Nothing was collected.
waste-no-code = not set
waste-of-rinse = equipment rinsed
waste-note-codes = Waste codes: { $source }.
waste-note-no-codes = No waste codes are set, so what the waste is stands instead. Ask the collector or the authority for the codes and add them to workshop.toml as a table [waste_codes] with used_fluid, filter, cloths, empty_cans and source.
waste-note-kilograms = Kilograms are weighed, or litres multiplied by the density at 15 °C that stands beside them, to 0.01 kg. What was counted in pieces has no kilograms until it is weighed.
waste-note-law = The collector and the local authority decide on codes, containers and how long this register is kept.

# The month.
month-title = Month end, { $period }, { $site }
month-note = Jobs, records and the store are shown as they are now; waste up to the end of the period.
month-jobs = Jobs that are open now
month-jobs-open = { $count ->
    [one] One job is open now.
   *[other] { $count } jobs are open now.
}
month-all-closed = No job is open now.
month-records = Records that are not handed over now
month-records-open = { $count ->
    [one] One record is not handed over.
   *[other] { $count } records are not handed over.
}
month-all-handed-over = Every record is handed over.
month-not-issued = record not issued
month-not-handed-over = not handed over
month-newer-edition = a newer edition is to be issued or handed over
month-stock = Store, counted against computed
month-not-counted = not counted
month-due = Services due in { $month }
month-tools = Tools whose check is due
month-no-tool-due = No check is due.
month-nothing-due = No service is due.
month-due-passed = { $count ->
    [one] One vehicle was due earlier and has not been back.
   *[other] { $count } vehicles were due earlier and have not been back.
}

# What a scanned code belongs to.
found-part = { $code }: { $part ->
    [fluid-container] fluid
    [filter] filter
    [standpipe] standpipe
    [kit] kit
    [adapter] adapter
   *[transmission-plate] transmission plate
} of { $variants }.
found-supply = { $code }: { $what }, known from deliveries.
found-lot = { $what } { $code }, lot { $lot }: { $known }.
found-there = { $amount } should be there
found-until = to be used until { $day }
found-past = past its last day, { $day }
found-tool = Tool { $code }.
found-tool-against = Tool { $code }: { $said }
found-tool-until = Tool { $code } may be used; its next check is due on { $day }.
found-equipment = Equipment { $code }: { $holds }; { $display }.
found-holds = holds { $fluid }, about { $litres }
found-holds-nothing = holds nothing, it was emptied
found-holds-not-known = it is not known what it holds
found-display-checked = its display was checked on { $day }
found-display-old = its display was checked on { $day }, and a check was due on { $due }
found-display-not-checked = its display was repaired, overloaded or taken out and not checked since
found-display-unknown = no check of its display is known
found-job-open = Job { $number }, { $plate }, opened on { $day }.
found-job-closed = Job { $number }, { $plate }, opened on { $day }, closed.

## Pages: words of several pages

page-by = By
page-carried-out-with-parts = Carried out with parts
page-catalogue = Catalogue
page-code = Code
page-customer = Customer
page-dipstick = dipstick
page-enter-a-variant = Enter a variant
page-fluid = Fluid
page-jobs = Jobs
page-maker = Maker
page-next = Next
page-no-job-fits = No job fits '{ $search }'.
page-not-known = not known
page-open-a-job = Open a job
page-plate = Plate
page-refill-after-the-pan = Refill after the pan
page-screws-of-the-pan = Screws of the pan
page-search = Search
page-source = Source
page-store = Store
page-telephone = Telephone
page-temperature = Temperature
page-time = Time
page-tools = Tools
page-variant = Variant
page-vehicle = Vehicle
page-waste = Waste
page-what = What
page-what-equipment-holds = What equipment holds
page-where-it-was-read = Where it was read
page-wrong-box = This { $what }.

## Pages: frame of every page

page-kept-up-to-date = Kept up to date.
page-live-silent = No answer from the server since { $time }; what is shown may be old.
page-month = Month
page-sign-out = Sign out { $person }
page-to-the-content = To the content

## Pages: table of jobs

page-all-jobs = All jobs
page-last-entry = Last entry
page-more-jobs = More jobs
page-number = Number
page-number-plate-last-8-of-the = Number, plate, last 8 of the VIN, customer or telephone
page-open-jobs-first-in-the-order = Open jobs first, in the order of the work; then closed ones, the newest first.
page-the-list-is-still-being-put = The list is still being put together; older jobs may be missing for a moment.
page-there-is-no-job-yet = There is no job yet.

## Pages: a job

page-photo-sheet = Sheet for photos of fluid
page-all-that-is-open = All that is open
page-at-arrival = At arrival
page-at-the-end = At the end
page-before-closing = Before closing
page-before-the-drive = Before the drive
page-before-the-engine-is-started = Before the engine is started
page-before-the-exchange = Before the exchange
page-before-the-level = Before the level
page-before-the-pan = Before the pan
page-before-the-refill = Before the refill
page-check-value = Check value { $check }
page-condition-of-the-fluid = Condition of the fluid
page-earlier-jobs = Earlier jobs
page-enter-its-variant = Enter its variant
page-entered-later = Entered later
page-entry = Entry
page-figures = Figures
page-its-record = Its record
page-job-named = Job { $job }
page-next-due = Next due
page-nothing-is-open = Nothing is open.
page-rests-on = Rests on
page-stop = Stop:
page-story = Story
page-readings-folded = { $count } readings from { $station }, { $from } to { $to }. The last: { $last }
page-readings-folded-no-litres = { $count } readings from { $station }. The last: { $last }
page-readings-all = All { $count } readings
page-put-right-lead = Change what is wrong; what stands here then takes the place of the entry, and the first stays to be seen. Or withdraw the entry as a whole.
page-put-right-reason-hint = It is kept and printed with who and when.
page-put-right-reason-missing = This is missing. Write what is wrong, for example: one letter misread.
page-put-right-replace = State it so instead
page-put-right-back = Back to { $job } without changing it
page-sign-title = Sign it
page-sign-lead = What was put right counts once { $person } has given the PIN.
page-sign-it = Sign
page-sign-later = Later: it stays open until then
page-choice-word = { $word ->
    [yes] yes
    [no] no
   *[any] { $plain }
}
page-field = { $field ->
    [vin] VIN, all 17 characters
    [last-eight] VIN, last 8 characters
    [plate] plate
    [source] source
    [odometer-kilometres] distance on the odometer
    [volume-litres] volume
    [mass-kilograms] mass
    [volume-in-litres] pushed in since the start
    [volume-out-litres] came out since the start, by volume
    [mass-out-kilograms] came out since the start, by mass
    [tube-percent] nearest comparison tube, parts new of 100
    [temperature-celsius] temperature
    [caught-litres] caught, by volume
    [torque-newton-metres] torque
    [variant-code] code of the variant
    [fluid-code] code of the fluid
    [total-fill-litres] total fill, dry
    [level-least-celsius] level from
    [level-greatest-celsius] level to
    [looked-up-date] looked up on
    [code] code
    [lot] lot
    [part] part
    [moment] when
    [person-code] person
   *[any] { $plain }
}
page-the-job-is-closed = The job is closed.
page-the-job-is-closed-no-exchange = The job is closed; no exchange was done.
page-value-from-to = Value, from-to
page-vin = VIN
page-what-to-know = What to know

## Pages: words and photos of a job

page-digest-to-erase-it = Digest, to erase it
page-in-words = In words
page-photo-absent = The photo is not yet arrived.
page-photo-damaged = The photo is damaged; put it back from a backup.
page-photo-erased = The photo is erased.
page-photos = Photos

## Pages: papers of a job

page-bay-sheet = Bay sheet
page-edition-again = Edition { $edition } again
page-handed-over = Handed over
page-issue-the-record = Issue the record
page-print-the-record-as-it-stands = Print the record as it stands

## Pages: opening a job

page-all-17-characters-the-bay-reads = All 17 characters; the bay reads the last eight from the body.
page-all-day-such-as-for-hire = all day, such as for hire or delivery
page-answer-no = no
page-complaint-about-job = Complaint about job
page-distance = Distance
page-first-registered-on = First registered on
page-fluid-under-the-vehicle = fluid under the vehicle
page-from-the-papers-as-2018-05 = From the papers, as 2018-05-03; it settles the model year.
page-gear-changes-are-harsh = gear changes are harsh
page-gear-changes-come-late = gear changes come late
page-high-voltage-system = High-voltage system
page-model = Model
page-mostly-in-mountains = mostly in mountains
page-mostly-long-ways-at-even-speed = mostly long ways at even speed
page-mostly-short-ways-in-town = mostly short ways in town
page-mostly-used = Mostly used
page-name = Name
page-noise = noise
page-not-said = not said
page-nothing-out-of-the-ordinary = nothing out of the ordinary
page-number-of-an-earlier-job-here = Number of an earlier job here, such as HL-26-0042, if the customer comes back about it.
page-often-with-a-trailer-or-a = often with a trailer or a full load
page-open-the-job = Open the job
page-service-due-by-distance-or-time = service due by distance or time
page-stands-beside-the-journal-is-printed = Stands beside the journal, is printed on the record and can be erased.
page-the-next-service-may-be-due = The next service may be due sooner for it.
page-the-transmission-slips = the transmission slips
page-the-vehicle-shudders = the vehicle shudders
page-this-has-characters-1-to-without = This has { $count } characters; 1 to { $most } without control characters are allowed.
page-vin-from-the-papers = VIN, from the papers
page-warning-lamp = warning lamp
page-what-is-ordered = What is ordered
page-what-the-customer-says = What the customer says
page-why-it-comes = Why it comes
page-with-one-a-qualified-person-isolates = With one, a qualified person isolates it before the exchange.
page-yes-as-a-hybrid-has = yes, as a hybrid has

## Pages: signing in

page-dir-is-the-folder-of-the = DIR is the folder of the site. The second command asks for the PIN, 4 to 12 digits, twice.
page-nobody-has-a-pin-yet-on = Nobody has a PIN yet. On the shop server’s own machine, list a person and set a PIN, then load this page again:
page-person-code = Person code
page-person-code-and-pin-do-not = Person code and PIN do not belong together; type both again.
page-pin = PIN
page-sign-in = Sign in
page-the-pin-of-this-person-code = The PIN of this person code was wrong too often; wait { $seconds } seconds and type it again.
page-too-many-people-sign-in-at = Too many people sign in at the same time; wait a moment and send it again.
page-too-many-pins-were-typed-from = Too many PINs were typed from this address; wait a minute and type person code and PIN again.

## Pages: facts of the site

page-a-check-needs-at-least-one = A check needs at least one torque, of tool and reference.
page-a-drum = a drum
page-a-litre-display-was-checked = A litre display was checked
page-a-lot-came-in = A lot came in
page-a-lot-was-recalled = A lot was recalled
page-a-tool-was-overloaded-or-taken = A tool was overloaded or taken out
page-a-torque-tool-was-checked = A torque tool was checked
page-about = About
page-after-rinsing-of-the-fluid-it = After rinsing, of the fluid it was rinsed with.
page-all-that-was-stated = All that was stated
page-anything-else = Anything else
page-as-on-the-container-or-the = As on the container or the box.
page-as-on-the-document = As on the document.
page-back-without-stating-anything = Back, without stating anything
page-back-without-withdrawing-it = Back, without withdrawing it
page-before-changed = Before: { $before } Changed: { $reason } ({ $by })
page-by-its-type-class-and-range = By its type, class and range; see its papers.
page-cans-or-bottles = cans or bottles
page-certificate = Certificate
page-check = Check
page-check-up-to-five-torques = Check, up to five torques
page-code-on-the-container = Code on the container
page-code-on-the-container-of-the = Code on the container of the fluid
page-code-on-the-display-or-its = Code on the display or its equipment
page-code-on-the-equipment = Code on the equipment
page-code-on-the-tool = Code on the tool
page-container = Container
page-delivery-note = Delivery note
page-each-torque-as-the-tool-showed = Each torque as the tool showed it or was set to, and as the reference showed it.
page-empty-all-lots-of-this-code = Empty: all lots of this code were counted together.
page-empty-if-there-is-only-one = Empty if there is only one.
page-empty-not-known = Empty: not known.
page-empty-whatever-has-this-lot-number = Empty: whatever has this lot number.
page-equipment = Equipment
page-fifth-torque-reference = Fifth torque, reference
page-fifth-torque-tool = Fifth torque, tool
page-first-torque-reference = First torque, reference
page-first-torque-tool = First torque, tool
page-fluid-by-volume = Fluid, by volume
page-fluid-weighed = Fluid, weighed
page-for-example-13-02-05 = For example 13 02 05*.
page-for-example-2027-03-18-empty = For example 2027-03-18; empty: by the settings of the workshop.
page-for-example-2028-05-31 = For example 2028-05-31.
page-form-sent-before = This form was sent before with something else in it, and that was stated. If this is to be stated too, send it again.
page-fourth-torque-reference = Fourth torque, reference
page-fourth-torque-tool = Fourth torque, tool
page-how-much = How much
page-how-much-was-taken-is-missing = How much was taken is missing.
page-if-it-is-known = If it is known
page-if-it-is-wrong = If it is wrong
page-if-it-was-rinsed-just-now = If it was rinsed just now
page-if-known-hint = If it is known.
page-in-how-many-of-them = In how many of them
page-in-the-jug = In the jug
page-is-no-day-write-it-as = '{ $typed }' is no day; write it as 2026-01-31 (year-month-day).
page-is-no-whole-number-write-for = '{ $typed }' is no whole number; write for example 12.
page-it-holds = It holds
page-it-may-deviate-by = It may deviate by
page-it-needs-a-check-before-it = It needs a check before it is used again.
page-it-stays-to-be-seen-with = It stays to be seen with this reason, and counts no more. State it again rightly afterwards.
page-its-recall-is-lifted = its recall is lifted
page-last-day-to-use-it = Last day to use it
page-let-at-least-5-l-run = Let at least 5 L run into a jug or a can on a scale.
page-litre-display = litre display
page-lot = Lot
page-lot-of-that-fluid = Lot of that fluid
page-marked-from = Marked from
page-marked-to = Marked to
page-next-check = Next check
page-not-noted = not noted
page-nothing-it-was-emptied = nothing, it was emptied
page-nothing-was-stated-yet-put-right = Nothing was stated yet; put right what stands beside the boxes and send it again.
page-nothing-yet = Nothing yet.
page-number-of-the-document = Number of the document
page-on-the-scale = On the scale
page-one-code-or-lot-at-a = One code or lot at a time. What is stated is what is there now.
page-one-of-these-three-boxes = One of these three boxes.
page-only-one-of-these-boxes-can = Only one of these boxes can be filled in; leave the others empty.
page-overloaded-dropped-or-repaired = overloaded, dropped or repaired
page-put-right = Put right
page-recall = Recall
page-rinsed-with = Rinsed with
page-say-who-recalls-it-and-what = Say who recalls it and what for.
page-second-torque-reference = Second torque, reference
page-second-torque-tool = Second torque, tool
page-state-it = State it
page-stated-lately = Stated lately
page-supply-filter = filter
page-supply-fluid = fluid
page-supply-kit = kit
page-supply-other = other part
page-supply-screws = screws
page-supply-seal = seal
page-taken-out-of-use = taken out of use
page-tank-and-hoses-keep-some-of = Tank and hoses keep some of the last fluid; the next vehicle gets it first.
page-the-display-showed = The display showed
page-the-first-are-left-out-here = The first { $count } are left out here.
page-the-fluid-below = the fluid below
page-the-fluid-came-in = The fluid came in
page-the-jug-or-the-scale-not = The jug or the scale, not both.
page-the-lot-is-recalled = the lot is recalled
page-the-reference-is-missing = The reference is missing.
page-the-store-was-counted = The store was counted
page-the-whole-delivery-of-this-lot = The whole delivery of this lot.
page-third-torque-reference = Third torque, reference
page-third-torque-tool = Third torque, tool
page-this-is-missing-write-the-lot = This is missing; write the lot number as it stands on the container.
page-tool = Tool
page-torque-tool = torque tool
page-waste-code = Waste code
page-waste-was-collected = Waste was collected
page-what-came-in = What came in
page-what-happened = What happened
page-what-is-stated = What is stated
page-what-is-there = What is there
page-what-is-wrong-with-it = What is wrong with it
page-what-it-is = What it is
page-what-the-tool-showed-is-missing = What the tool showed is missing.
page-what-was-stated = What was stated
page-what-was-stated-of-the-workshop = What was stated of the workshop
page-what-was-taken = What was taken
page-where-it-goes = Where it goes
page-who-took-it = Who took it
page-why = Why
page-withdraw-it = Withdraw it
page-withdrawn = Withdrawn: { $reason } ({ $by })
page-without-the-can-fluid-and-temperature = Without the can; fluid and temperature are then needed.
page-without-the-container = Without the container.

## Pages: tallies

page-csv = CSV: { $heading }
page-job = Job
page-looked-at-in-order = Looked at: in order
page-looked-at-put-right = Looked at: put right
page-pdf = PDF
page-recall-answer-of-job = { $answer }, job { $job }
page-recalls = Recalls
page-recalls-lots-and-whom-to-call = Recalls: lots, and whom to call
page-show = Show
page-told-declines = Told: declines
page-told-informed = Told: informed
page-what-came-of-it = What came of it
page-whom-to-call = Whom to call
page-year-or-month-such-as-2026 = Year or month, such as 2026 or 2026-11

## Pages: the catalogue

page-adapter = adapter { $adapter }
page-adopted-on = Adopted on { $time }.
page-against-the-one-before = Against { $revision }, the one before:
page-cautions-of-the-maker = Cautions of the maker
page-celsius-window = { $from } to { $to } °C
page-code-name-fluid-or-part = Code, name, fluid or part
page-colour-when-fresh = Colour when fresh
page-conditions-and-marks = Conditions and marks
page-density-at-15-c = Density at 15 °C
page-entered-by = Entered by
page-filter = Filter
page-filter-as-built = Filter as built
page-fluid-and-parts = Fluid and parts
page-for-every-use = For every use
page-instead-for = Instead for
page-it-is-the-first-one-everything = It is the first one; everything in it was new.
page-kit-named = Kit { $kit }
page-kit-screws = ; { $count } new screws for the pan
page-level = Level
page-level-plug = Level plug
page-makers-interval = Maker's interval
page-method = Method
page-months-counted = { $months } months
page-more-lines-are-left-out-here = { $count } more lines are left out here.
page-more-variants-are-left-out-here = { $count } more variants are left out here.
page-more-vins-are-left-out-here = { $count } more VINs are left out here.
page-next-page = Next page
page-no-rule-is-stated-its-variant = No rule is stated; its variant is looked up by the VIN.
page-no-variant-has-in-its-code = No variant has '{ $search }' in its code, its names, its fluid or its parts.
page-no-variant-yet-a-job-can = No variant yet. A job can be done all the same: look its variant up, and enter it here.
page-none = none
page-the-owner-offers = The owner offers revision { $revision } of the catalogue. The workshop's own name, numbers, language and time zone stay as they are.
page-the-owners-server-has-all = The owner's server has all { $entries } entries.
page-the-owners-server-has-some = The owner's server has { $kept } of { $entries } entries.
page-the-owners-server-has-some-since = The owner's server has { $kept } of { $entries } entries; it had all of them last on { $since }.
page-use-what-is-offered = Use revision { $revision } from now on
page-none-was-adopted-yet = None was adopted yet.
page-not-stated = not stated
page-not-stated-any-more-before = not stated any more, before: { $before }
page-nothing-is-different = Nothing is different.
page-now-and-before = { $now }, before: { $before }
page-or = or
page-page-before = Page before
page-page-of-variants = Page { $page } of { $pages }, { $count } variants
page-pan = Pan: { $torque }
page-pattern = Pattern
page-plug = Plug: { $torque }
page-revision = Revision { $revision }
page-revision-in-use = , in use
page-revision-of-the-catalogue = Revision of the catalogue
page-revisions-each-with-what-it-changed = Revisions, each with what it changed
page-rule = Rule
page-screws-and-torques = Screws and torques
page-see-the-maker = see the maker
page-serial-numbers = Serial numbers
page-serials-all = all
page-serials-window = { $from } to { $to }
page-settings = Settings
page-side-hole = side hole
page-standpipe = Standpipe
page-standpipe-overflow = standpipe overflow
page-their-order = Their order
page-their-stages = Their stages
page-their-torque = Their torque
page-torques = Torques
page-total-fill = Total fill
page-transmission-plate = Transmission plate
page-variant-came-in = Variant { $code }, { $name }, came in
page-variant-named = Variant { $code }
page-variant-was-changed = Variant { $code }, { $name }, was changed
page-variant-was-taken-out = Variant { $code }, { $name }, was taken out
page-variants-in-use = Variants in use
page-vins-that-are-decided-otherwise-by = VINs that are decided otherwise, by an example each
page-vins-that-it-is-built-into = VINs that it is built into
page-where-equipment-is-connected = Where equipment is connected

## Pages: entering a variant

page-agrees = agrees
page-all-17-characters-for-any-j = All 17 characters: * for any, [J-L] for one of a range, [JK] for one of these.
page-an-empty-box-prints-see-the = An empty box prints 'see the maker'.
page-carried-out-with-parts-give-or = Carried out with parts, give or take
page-copy-every-value-from-the-makers = Copy every value from the maker's instructions. A value that they do not state stays empty.
page-density-hint = May stay empty for a fluid of the catalogue; else from its data sheet.
page-does-not-agree = does not agree
page-edition = Edition
page-enter-another = Enter another
page-kit-code = Kit, code
page-kit-parts = Kit, what is in it
page-kit-new-screws = Kit, new pan screws in it
page-hookup-place = Hook-up, where the equipment is connected
page-hookup-adapter = Hook-up, code of the adapter
page-hookup-note = Hook-up, what to know there
page-hookup-note-hint = It stands beside the choice when the equipment is connected; for example at the cooler, the upper line.
page-maker-caution = Caution of the maker, { $number }
page-maker-caution-hint = One sentence, as the maker writes it. Leave it empty where there is none.
page-enter-the-variant = Enter the variant
page-filter-code = Filter, code
page-fluid-and-level = Fluid and level
page-fluid-code-on-the-container = Fluid, code on the container
page-fluid-density-at-15-c = Fluid, density at 15 °C
page-fluid-name = Fluid, name
page-for-example-engine-idling-selector-in = For example: engine idling, selector in P, level car.
page-for-example-long = For example: long.
page-for-example-second-series = For example: second series.
page-hole-in-the-side = hole in the side
page-how-far-that-may-be-off = How far that may be off; both or neither.
page-is-in-the-catalogue-already-give = '{ $code }' is in the catalogue already; give the new variant a code of its own.
page-jobs-that-are-opened-from-now = Jobs that are opened from now on are judged by it. A job that is open already is judged by it once its variant is settled by it.
page-jobs-whose-variant-is-open = Jobs whose variant is open
page-last-six-characters-of-the-vin = Last six characters of the VIN, if the rule holds for a part of them.
page-level-conditions = Level, conditions
page-level-from = Level, from
page-level-method = Level, method
page-level-plug-torque = Level plug, torque
page-level-to = Level, to
page-makers-interval-distance = Maker's interval, distance
page-makers-interval-time = Maker's interval, time
page-may-stay-empty-for-a-fluid = May stay empty for a fluid of the catalogue.
page-no-next-service-is-named-beyond = No next service is named beyond it.
page-not-looked-at-yet = not looked at yet
page-nothing-was-entered-yet-put-right = Nothing was entered yet; put right what stands beside the boxes and send it again.
page-offer-plate = { $job } – { $plate }: the transmission's plate
page-or-the-date-of-the-look = Or the date of the look-up.
page-overflow-at-the-standpipe = overflow at the standpipe
page-screws-of-the-pan-torque = Screws of the pan, torque
page-serial-number-from = Serial number, from
page-serial-number-to = Serial number, to
page-settle-by-it = Settle { $job } by it
page-standpipe-code = Standpipe, code
page-standpipe-what-it-looks-like = Standpipe, what it looks like
page-the-catalogue-would-have-more-than = The catalogue would have more than { $most } KiB; take out what is not used.
page-total-fill-dry = Total fill, dry
page-transmission = Transmission
page-transmission-plate-code = Transmission plate, code
page-unique-in-this-catalogue = Unique in this catalogue.
page-variant-entered = Variant entered
page-variant-is-in-the-catalogue = Variant { $code } is in the catalogue
page-vin-pattern = VINs that it is built into, pattern
page-what-else-is-stated-filter-standpipe = What else is stated: filter, standpipe, torques, intervals, VINs
page-what-tells-it-apart = What tells it apart
page-with-converter-cooler-and-lines = With converter, cooler and lines.
page-with-the-old-filter-and-the = With the old filter and the film in the pan.
page-worth-a-look = Worth a look

## Pages: what goes wrong

page-not-done = Not done
page-the-form-has-more-than-kib = The form has more than { $kibibytes } KiB; go back and shorten what was typed.
page-the-form-was-not-filled-in = The form was not filled in on a page of this session; go back, load the page again and send it once more.
page-the-office-pages-answer-at-this = The office pages answer at this machine's own name only; use http://localhost and the port.
page-there-is-no-such-page-here = There is no such page here; go back to the jobs.
page-this-was-not-stated-the-same = This was not stated: the same form was sent before with something else in it; go back, load the page again and send it once more.
page-too-many-pages-are-open-at = Too many pages are open at the same time; close some of them.
page-you-are-signed-out-sign-in = You are signed out; sign in and send it once more.

## Pages: units

page-unit-months = months
page-unit-pieces = pieces

## Pages: a new station

page-join-another = Another machine
page-join-code-good = The code is good once and for { $minutes } minutes. It stands in the address of this page behind the number sign, and at the shop server, where { $command } prints a new one.
page-join-code-hint = As the shop server printed it; the link of its picture fills it in.
page-join-compare = Compare it before you trust it, since this page could come from somebody in between. At the shop server itself it is shown by { $command }, where DIR is the site's folder.
page-join-foreign-code = the code is from another shop server; open the link that this one prints
page-join-foreign-role = '{ $name }' has the role { $role }, and a browser becomes a bay or an office; ask for another code and join it with the command
page-join-install = Browsers and other programs know it by the certificate of the workshop's own authority: { $file }. Until it is installed a browser warns of this page. Open the file on the tablet and install it as a certificate authority in the settings, then load this page again. Its SHA-256 is
page-join-known = So that the browser knows this shop server
page-join-lost = The browser of this tablet keeps what lets it in; whoever takes the tablet takes that along. Lost? { $command } at the shop server ends it at once.
page-join-make-tablet = Make this tablet the station
page-join-tablet = This tablet
page-join-title = A new station
page-join-type = Type this at the machine that becomes the station:
page-join-not-joined = This tablet is not joined
page-join-not-joined-title = Not joined
page-join-or-sign-in = { $link } instead, where this is the office.
page-join-open-link = At the shop server { $command } prints a code and a picture of its link; open the link on this tablet, or type the code at { $link }.
page-join-right-ended = It was never joined, or its right was taken back or has come to its end.
page-join-station-link = a new station

## Photo

photo-look = Photo at { $litres }: { $value } of 100 parts new in the glass (from { $least } to { $greatest }).
photo-comparison-read = fluid before, now and fresh on the reference sheet, at { $litres }: { $value } of 100 parts new in the glass
photo-comparison-not-read = fluid before, now and fresh, at { $litres }; no share was read from it: { $why }
photo-comparison-unused = fluid before, now and fresh; no reading was taken from it
photo-not-read = The photo at { $litres } gives no share, so this reading counts by its litres alone: { $why }
photo-why-not-arrived = it has not arrived yet.
photo-why-erased = it was erased.
photo-why-no-picture = it is no whole JPEG or PNG picture of at most 40 million pixels.
photo-why-no-sheet = the reference sheet was not found in it. All four corner marks and both rows of greys must be in the picture.
photo-why-too-small = the sheet is too small in it. Go nearer.
photo-why-blurred = it is not sharp. Hold still, tap on the sheet, and take it again.
photo-why-too-dark = the white of the sheet is too dark. Take it in more light.
photo-why-white-clipped = the white of the sheet is as bright as the camera can say. Tap on the white of the sheet so that the picture becomes darker, and take it again.
photo-why-no-white = the white beside a place is covered or lies in a shadow. Leave it free and take it again.
photo-why-unequal-light = the sheet is lit too unequally. Use daylight or one lamp, farther away, without a shadow.
photo-why-no-curve = the greys of the sheet make no sense. Print the sheet again without savings, lay it flat, and take the photo again.
photo-why-glare = light is mirrored in { $place }. Move the lamp or the camera, no flash, and take it again.
photo-why-not-filled = { $place } does not fill its place evenly. Put it on its mark, filled above it, without foam.
photo-why-empty = nothing was seen at the place of { $place }.
photo-why-place-too-dark = { $place } is darker than the darkest grey. Use narrower bottles or comparison tubes.
photo-why-fluids-too-dark = no colour passes through all the fluids. Use narrower bottles or comparison tubes.
photo-why-alike = the fluid before and fresh fluid look too much alike in it.
photo-why-unexplained = its colours are no mixture of the fluid before and fresh fluid: foam, clouding, another light, or bottles of different width.
photo-why-exchanged = fresh fluid is darker in it than the fluid before. Look whether the two were exchanged.
photo-place = { $place ->
    [before] the bottle with the fluid before
    [fresh] the bottle with fresh fluid
    [tube] a comparison tube
   *[now] the bottle or tube with the fluid of now
}

photo-sheet-title = Reference sheet for photos of fluid
photo-sheet-bottles = Bottles: the fluid before, now, and fresh
photo-sheet-tubes = Comparison tubes
photo-sheet-how-print = Print at full size on white paper, without savings and without colour correction. Do not write on it or cut it.
photo-sheet-how-place = Put the sheet upright against a flat, straight wall or board. All stand before it on its lower edge, close to it, each in the middle of its place, filled at least 85 mm high, clean outside, no foam.
photo-sheet-how-bottles = Three clear bottles of the same width, at most 44 mm wide.
photo-sheet-how-tubes = Seven clear tubes of the same width, at most 18 mm wide. The numbers say how much of 100 parts is fresh fluid; mix them from the sample before and fresh fluid.
photo-sheet-how-light = Daylight or one lamp. No flash, no shadow on the sheet, nothing mirrored in the glass.
photo-sheet-how-photo = All four corner marks in the picture, the sheet as large as it can be, the camera straight before it and held still.
photo-sheet-caution = Cool fluid only: hot fluid burns. Gloves and eye protection; wipe up what drips. The vehicle maker’s instructions and the fluid maker’s safety data come first.
photo-sheet-stand = { $stand ->
    [before] before
    [fresh] fresh
   *[now] now
}
photo-sheet-share = { $percent } of 100
photo-sheet-step = { $percent } %
photo-sheet-steps = light, of that of the paper

## Owner

owner-title = Workshops, { $from } to { $to }
owner-title-month = Workshops, { $month }
owner-title-site = { $site }, { $from } to { $to }
owner-title-site-month = { $site }, { $month }
page-workshops = Workshops
page-owner-every-job-csv = Every job as CSV
page-owner-every-job-lines = Every job as JSON lines
page-owner-single-jobs = Single jobs to look at
page-owner-tables = Tables as CSV
page-owner-months = Months: a year, a month such as 2026-11, from one to another such as 2025-12/2026-11, or the last, such as 12 months
page-owner-journals = Journals of the workshops
page-owner-workshop = Workshop
page-owner-entries-here = Entries kept here, at the owner’s server
page-owner-entries-there = Entries at the workshop, as it said last
page-owner-last-heard = Last heard
page-owner-never = not yet
page-owner-lost = Its server lost entries that are kept here. Give them back there with: standpipe-server recover --dir DIR --from-owner.
page-owner-unread = { $count ->
    [one] One entry cannot be read by this edition and is in no figure: entry { $places }.
   *[other] { $count } entries cannot be read by this edition and are in no figure; the first are { $places }.
}
page-owner-as-of-entry = As of entry { $entry } of its journal.
page-owner-not-here = Customers, names of persons, remarks and photos stay at the workshop.
page-owner-funnel = Share of each workshop by its number of jobs, with limits of chance
page-owner-litres-beyond = L a job beyond other workshops
page-owner-litres-own = L a job
page-owner-of-100 = of 100 jobs
page-owner-jobs-to = jobs, up to { $jobs }
page-owner-funnel-said = Each circle is a workshop, what its variants would lead to taken out. Line: all together; dashes: 95 %; dots: 99.8 % of chance. Beyond them is a reason to look.
page-owner-months-said = Circles: single months, with dotted limits. Line: moving average, with dashed limits.
owner-site-forked = { $site }: its journal went on differently from what is kept here; this was seen first on { $day }, when { $entry } entries of it were kept. Either this copy or another one of the same disk went its own way; find out which one is right: bring back the newer copy there, or rebuild the site with: standpipe-server recover --dir DIR --from-owner. This is said until the right journal is brought again, ten minutes or more after the other one was seen last.
owner-site-silent = { $days ->
    [one] { $site } was last heard of one day ago; its figures end at entry { $entry }.
   *[other] { $site } was last heard of { $days } days ago; its figures end at entry { $entry }.
}
owner-note-missing = { $count ->
    [one] { $site }: the files of one catalogue revision did not come yet; jobs that it judges are judged without it until then.
   *[other] { $site }: the files of { $count } catalogue revisions did not come yet; jobs that they judge are judged without them until then.
}
owner-note-left-out = { $count ->
    [one] { $site }: one job could not be computed and is in no figure: { $numbers }.
   *[other] { $site }: { $count } jobs could not be computed and are in no figure: { $numbers }.
}
owner-note-unread = { $count ->
    [one] { $site }: one entry cannot be read by this edition and is in no figure: entry { $numbers }.
   *[other] { $site }: { $count } entries cannot be read by this edition and are in no figure: entries { $numbers }.
}
owner-counted = { $jobs ->
    [one] One job
   *[other] { $jobs } jobs
} of { $sites ->
    [one] one workshop
   *[other] { $sites } workshops
}.
owner-nothing = { $known ->
    [no-jobs] No job was closed in these months.
    [few] Nothing that was written down was past its check, and no other fluid was poured in. Too few jobs were closed to compare anything, so no figure says more.
   *[compared] Nothing that was written down was past its check, and no other fluid was poured in.
}
owner-compared = Compared over these months together: { $measures }. { $found ->
    [some] Nothing of it but what is named above is far enough beyond chance.
   *[none] None of it is far enough beyond chance to be named.
}
owner-not-compared = Not compared, for too few jobs or workshops: { $measures }. Ask for more months.
owner-compared-of = { $measure ->
    [litres-lost] litres in minus out
    [display-off] litre displays
    [come-back] vehicles that came back within 30 days
    [level-unset] levels not looked at
   *[late] entries typed late
}
owner-compared-in = { $measure } ({ $sites } of { $all } workshops)
owner-nothing-read = No litre display was read, so nothing is known of any.
owner-days = from { $from } to { $to }
owner-day = on { $day }
owner-at-risk = { $count ->
    [one] One job was closed although its vehicle may hold too little or too much fluid, the level not looked at, or work stood open: { $jobs }. Have that looked at before the vehicle is driven on, as the vehicle maker instructs.
   *[other] { $count } jobs were closed although their vehicles may hold too little or too much fluid, the level not looked at, or work stood open: { $jobs }. Have that looked at before the vehicles are driven on, as the vehicle maker instructs.
}
owner-at-risk-more = { $count } jobs were closed although their vehicles may hold too little or too much fluid, the level not looked at, or work stood open: { $jobs } and { $more } more. Have that looked at before the vehicles are driven on, as the vehicle maker instructs.
owner-at-risk-of = { $site } { $number } ({ $why })
owner-level-unset = { $count ->
    [one] One job was closed as done without a look at the level that counts ({ $jobs }). Have its level checked.
   *[other] { $count } jobs were closed as done without a look at the level that counts ({ $jobs }). Have their level checked.
}
owner-jobs = { $numbers }
owner-jobs-more = { $more ->
    [one] { $numbers } and one more
   *[other] { $numbers } and { $more } more
}
owner-display-unchecked = { $count ->
    [one] { $site }, { $days }: the litre display of { $equipment } was read in one job without a check that counts ({ $jobs }). Check it with 5 L into a jug or on a scale before anything is said of people.
   *[other] { $site }, { $days }: the litre display of { $equipment } was read in { $count } jobs without a check that counts ({ $jobs }). Check it with 5 L into a jug or on a scale before anything is said of people.
}
owner-display-of = { $site } { $equipment } ({ $jobs } jobs from { $first } on)
owner-displays-unchecked = { $count } litre displays were read without a check that counts: { $displays }. Check each with 5 L into a jug or on a scale before anything is said of people.
owner-displays-unchecked-more = { $count } litre displays were read without a check that counts: { $displays } and { $more } more. Check each with 5 L into a jug or on a scale before anything is said of people.
owner-equipment-unknown = equipment that nobody named
owner-tool-past = { $count ->
    [one] { $site }, { $days }: one job was tightened with a tool past its check, out of its limits or not in the register, { $tools } ({ $jobs }). Check the tool, then decide about this job.
   *[other] { $site }, { $days }: { $count } jobs were tightened with a tool past its check, out of its limits or not in the register, { $tools } ({ $jobs }). Check the tool, then decide about these jobs.
}
owner-fluid = { $count ->
    [one] { $site }, { $days }: one job got a fluid that its transmission does not take, or a lot that came in as another fluid or is recalled: { $lots } ({ $jobs }). Have the workshop call the customer; the vehicle maker’s instructions come first.
   *[other] { $site }, { $days }: { $count } jobs got a fluid that their transmission does not take, or a lot that came in as another fluid or is recalled: { $lots } ({ $jobs }). Have the workshop call the customers; the vehicle maker’s instructions come first.
}
owner-lot-named = { $code }, lot { $lot }
owner-lot-unread = { $code }, lot not read
owner-display-off = { $site }, { $days }: the litre display of { $equipment } showed { $percent } { $how ->
    [less] less
   *[more] more
} than came out, from { $least } to { $greatest }, in { $count } jobs ({ $jobs }). It goes with the litres shown, which speaks for the display and not for people. Check it with 5 L into a jug or on a scale.
owner-litres-lost = { $site }, { $days }: in minus out, with what was spilled, is { $litres } a job beyond other workshops, from { $least } to { $greatest }, in { $count } jobs; most in { $jobs }. It does not clearly go with the litres shown: look for leaks of the equipment, what leaves the store, and what is written down.
owner-litres-lost-unchecked = { $site }, { $days }: in minus out, with what was spilled, is { $litres } a job beyond other workshops, from { $least } to { $greatest }, in { $count } jobs; most in { $jobs }. Check the litre display of { $equipment } first, which has no check that counts; then look for leaks, the store and what is written down.
owner-share = { $site }, { $days }: { $what } in { $count } of { $of } jobs ({ $jobs }), { $share } of 100, from { $least } to { $greatest }; of the same work at all workshops { $expected } of 100 would be expected. More than chance: ask what is different there.
owner-measure = { $measure ->
    [display-unchecked] display without a check that counts
    [tool-past] tool past its check
    [fluid] another fluid or a recalled lot
    [display-off] display off
    [litres-lost] in minus out, with what was spilled, beyond other workshops
    [come-back] the vehicle came back within 30 days
    [level-unset] closed without a look at the level that counts
   *[late] entries were typed late
}
owner-heading-look = Jobs to look at first
owner-no-look = No job stands out.
owner-look-unexplained = { $litres } more in than out, not accounted for
owner-look-back = { $days ->
    [0] the vehicle came back on the same day
    [one] the vehicle came back after one day
   *[other] the vehicle came back after { $days } days
}
owner-look-tool = tightened with a tool past its check, out of its limits or not in the register, { $tools }
owner-look-other-fluid = a fluid went in that the transmission does not take, or a lot that came in as another fluid
owner-look-recalled = a recalled lot went in
owner-look-open = { $count ->
    [one] closed with one point open of wrong fluid, pan, screws, plug, leaks, lines
   *[other] closed with { $count } points open of wrong fluid, pan, screws, plug, leaks, lines
}
owner-look-short = { $litres } less in than out
owner-look-only-out = { $litres } came out, and nothing is written of what went in
owner-look-level = closed without a look at the level that counts
owner-look-decided = { $count ->
    [one] one decision against the advice
   *[other] { $count } decisions against the advice
}
owner-heading-litres = Litres at 15 °C
owner-no-litres = No job has litres in and out.
owner-heading-share = Of 100 jobs: { $what }
owner-no-share = There is no job old enough.
owner-heading-equipment = Litre displays
owner-no-equipment = No display was read.
owner-heading-work = Work
owner-no-work = There is no closed job.
owner-heading-months = { $against ->
    [others] In minus out, with what was spilled, beyond other workshops, a month at a time
   *[own] In minus out, with what was spilled, a month at a time
}
owner-heading-sums = Sums by workshop, variant and month
owner-small-sites = { $count ->
    [one] one workshop with fewer than { $least } jobs
   *[other] { $count } workshops with fewer than { $least } jobs
}
owner-not-measured = not measured
owner-withheld = fewer than { $least } jobs
owner-more-jobs = { $count ->
    [one] One more job is not shown here; the export has it.
   *[other] { $count } more jobs are not shown here; the export has them.
}
owner-note-chance = A workshop is named for a figure only where chance would hardly do it: a display without a check, which is to be checked in any case, where it would in at most 15 of a hundred, one with a check in at most one of a thousand, and all else so that of twenty such sheets nineteen name nobody wrongly (Holm 1979). Litres count beyond { $litres } a job, a display beyond { $percent }.
owner-note-intervals = From-to are 95 % intervals; shares by Wilson 1927. Limits of chance are binomial, 95 % and 99.8 %, about what would be expected of the same variants at all workshops (Spiegelhalter 2005). Beyond them is a reason to look, no verdict.
owner-note-spread = Workshops differ among each other without anything being wrong; the limits are widened for it by up to { $factor } times, and a name asks for more than them.
owner-note-few = Fewer than { $sites } workshops have enough jobs to tell how much they differ without anything being wrong. So shares stand side by side, nobody is named for one, and the limits hold chance alone.
owner-note-small = Workshops with fewer than { $least } jobs are not compared; that would be chance. Sums of fewer than { $shown } jobs are not shown by themselves.
owner-note-none-before = Of the months that were asked of, none before { $month } has a closed job.
owner-note-not-compared = { $more ->
    [0] Litres are not compared, for want of jobs with litres in and out, at: { $names }.
   *[other] Litres are not compared, for want of jobs with litres in and out, at: { $names } and { $more } more.
}
owner-note-litres = Each sum of litres is over the jobs in which it was measured, so one is not to be taken from another; in minus out is over the jobs in which both are known. Work is counted of jobs that were closed as done.
owner-note-people = Nothing here is by person. Litres say nothing of people before the displays are checked.
owner-note-charts = Single values by their moving range, ± 3 R/1.128 about their mean, litres about what other workshops lose where any has enough jobs to tell (ISO 7870-2); moving average with weight { $weight } and limits of { $width } standard deviations (ISO 7870-6). Limits of a share end at 0 and 100. Of a year of months some lie outside by chance alone.
owner-from-to = { $value } ({ $least } to { $greatest })
owner-page-litres-unknown = In no job litres in were measured.
owner-page-litres = { $jobs ->
    [0] { $litres } went in, { $wasted } of used fluid were written down as waste; no job has litres in and out.
    [one] { $litres } went in, { $wasted } of used fluid were written down as waste; in the one job with litres in and out, in minus out, with what was spilled, is { $lost }.
   *[other] { $litres } went in, { $wasted } of used fluid were written down as waste; in the { $jobs } jobs with litres in and out, in minus out, with what was spilled, is { $lost }. Vehicles that arrive short take some of it.
}
owner-page-look = What to look at first
owner-page-compare = The workshops beside each other
owner-page-displays = jobs with a checked display
owner-page-back = came back in 30 days, of 100
owner-page-beyond = L a job beyond others
owner-page-axis = band: ± { $litres }
owner-page-of = { $checked } of { $read }
owner-page-others = { $count ->
    [one] one other workshop
   *[other] { $count } others together
}
owner-page-all = all together
owner-page-more = { $count ->
    [one] One more is on the owner’s pages and in: standpipe tally --period { $period }
   *[other] { $count } more are on the owner’s pages and in: standpipe tally --period { $period }
}
owner-page-unmeasured = Not measured
owner-page-no-balance = { $count ->
    [one] In one of { $of } jobs closed as done litres in or out were not fully measured; it is in no comparison of litres.
   *[other] In { $count } of { $of } jobs closed as done litres in or out were not fully measured; they are in no comparison of litres.
}
owner-page-no-check = { $count ->
    [one] In one of { $of } jobs with a litre display its check did not count.
   *[other] In { $count } of { $of } jobs with a litre display its check did not count.
}
owner-page-no-share = { $count ->
    [one] In one of { $of } jobs the new-fluid share is not known.
   *[other] In { $count } of { $of } jobs the new-fluid share is not known.
}
owner-page-no-visit = { $count ->
    [one] One of { $of } jobs says nothing of come-backs yet: younger than 30 days, or nobody read VIN or plate.
   *[other] { $count } of { $of } jobs say nothing of come-backs yet: younger than 30 days, or nobody read VIN or plate.
}
owner-page-intervals = From-to are 95 % intervals; come-backs by Wilson 1927. The drawing shows by how many litres a job in minus out, with what was spilled, is beyond other workshops, with their interval; inside the band nothing is worth a word.
owner-column = { $column ->
    [site] workshop
    [what] what
    [number] job
    [date] date
    [jobs] jobs
    [in] in
    [out] out
    [carried] with parts
    [wasted] waste
    [spilled] spilled
    [balanced] in and out known
    [lost] in minus out, with what was spilled, a job
    [least] from
    [greatest] to
    [beyond] beyond others, a job
    [events] so
    [share] of 100
    [expected] expected of 100
    [limit-95-low] 95 % from
    [limit-95-high] 95 % to
    [limit-998-low] 99.8 % from
    [limit-998-high] 99.8 % to
    [ratio] times expected
    [equipment] equipment
    [checked] with a check
    [off] shows more, of 100
    [attempts] looks at the level, a job
    [new] new fluid, of 100
    [decisions] decisions
    [before] min before
    [exchange] min exchange
    [pan] min pan
    [level] min level
    [after] min after
    [month] month
    [variant] variant
    [back-90] back in 90 days, of 100
    [back-365] back in 365 days, of 100
    [lower] lower limit
    [upper] upper limit
    [average-lower] lower limit of it
    [average-upper] upper limit of it
   *[average] moving average
}
owner-anew = Figures are being computed anew, since the program, a setting or the vehicle key changed; so far of { $done } of { $all } workshops. Until then the earlier ones are shown.
owner-anew-unread = Figures are being computed anew, since the program, a setting or the vehicle key changed; so far of { $done } of { $all } workshops. This program cannot read the earlier ones, so these are shown no more.
owner-site-behind = Figures of { $site } rest on entry { $entry } of { $kept }; the rest is being computed.
owner-no-jobs-at = No job was closed in these months at: { $names }.
owner-rows-cut = What is named by job was looked for in the first { $most } rows alone; ask for fewer months. Sums count all jobs.

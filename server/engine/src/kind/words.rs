//! Ordered words that people choose: each with the word that stands for it in the sentences.
//!
//! Never here: a number made of a word. Read by the kinds, compared by the sections of a job.

use standpipe_proto::v1;

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($variant:ident = $word:literal),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $(#[doc = concat!("The word '", $word, "'.")] $variant,)*
        }

        impl $name {
            /// Reads the choice of a message; absent when it is not stated.
            #[must_use]
            pub fn read(number: i32) -> Option<Self> {
                match v1::$name::try_from(number) {
                    $(Ok(v1::$name::$variant) => Some(Self::$variant),)*
                    _ => None,
                }
            }

            /// The word that chooses its form in a sentence.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }
        }
    };
}

words! {
    /// Why the vehicle came.
    VisitReason {
        ServiceDue = "service-due", HarshChange = "harsh-change", LateChange = "late-change",
        Shudder = "shudder", Noise = "noise", Slip = "slip", Leak = "leak", WarningLamp = "warning-lamp",
    }
}
words! {
    /// How a vehicle is mostly used.
    LoadWord {
        Ordinary = "ordinary", Towing = "towing", Mountains = "mountains", Town = "town",
        LongDistance = "long-distance", AllDay = "all-day",
    }
}
words! {
    /// Where a VIN was read.
    VinSource { Papers = "papers", BodyPlate = "body-plate", ControlUnit = "control-unit", Scan = "scan" }
}
words! {
    /// How a variant was settled.
    SettledBy {
        CatalogueRule = "catalogue-rule", LookedUp = "looked-up", TransmissionPlate = "transmission-plate",
    }
}
words! {
    /// Yes, no, or not looked at.
    Answer { Yes = "yes", No = "no", NotSeen = "not-seen" }
}
words! {
    /// What a code is on.
    Part {
        FluidContainer = "fluid-container", Filter = "filter", TransmissionPlate = "transmission-plate",
        Standpipe = "standpipe", OldFilter = "old-filter",
    }
}
words! {
    /// How a code was read.
    ReadBy { Eye = "eye", Scanner = "scanner" }
}
words! {
    /// Where fluid ran out.
    DrainedFrom { Pan = "pan", Spill = "spill", Sample = "sample" }
}
words! {
    /// How an amount was measured.
    Means {
        Jug = "jug", Scale = "scale", Display = "display", Containers = "containers", Estimate = "estimate",
    }
}
words! {
    /// What was seen in pan, magnets or sample, from least to most.
    Debris {
        None = "none", FineGreyPaste = "fine-grey-paste", Glitter = "glitter",
        FlakesOrChips = "flakes-or-chips",
    }
}
words! {
    /// Why fluid was put in.
    FillPurpose { Refill = "refill", Level = "level" }
}
words! {
    /// What a temperature is of.
    TemperatureOf {
        TransmissionFluid = "transmission-fluid", FreshFluid = "fresh-fluid", DrainedFluid = "drained-fluid",
    }
}
words! {
    /// How a temperature was read.
    TemperatureMeans { ScanTool = "scan-tool", Thermometer = "thermometer", Infrared = "infrared" }
}
words! {
    /// What came out of the overflow.
    Overflow { Nothing = "nothing", Drops = "drops", Stream = "stream" }
}
words! {
    /// Where the fluid stands on a dipstick.
    Dipstick { Below = "below", Between = "between", Above = "above" }
}
words! {
    /// Position of the selector.
    Selector { Park = "park", Neutral = "neutral", Other = "other" }
}
words! {
    /// When a sample was drawn.
    SampleTime { Before = "before", After = "after", Fresh = "fresh" }
}
words! {
    /// What a drop of fluid did on the hot plate of a laboratory.
    Crackle { None = "none", Fine = "fine", Growing = "growing", Violent = "violent" }
}
words! {
    /// Where a sample was drawn.
    SamplePlace { CoolerLine = "cooler-line", Pan = "pan", Filler = "filler" }
}
words! {
    /// Colour of the fluid, from fresh to black, or the dye where it is another one.
    ColourWord {
        AsFresh = "as-fresh", Darker = "darker", Brown = "brown", Black = "black",
        Yellow = "yellow", Green = "green", Blue = "blue", Red = "red",
    }
}
words! {
    /// Clouding, from clear to milky.
    Clouding { Clear = "clear", Hazy = "hazy", Milky = "milky" }
}
words! {
    /// Smell, from fresh to burnt.
    Smell { AsFresh = "as-fresh", SlightlySharp = "slightly-sharp", Burnt = "burnt" }
}
words! {
    /// How a job ended.
    Outcome { Done = "done", NoExchangeDone = "no-exchange-done" }
}
words! {
    /// Before or after the service.
    Moment { Before = "before", After = "after" }
}
words! {
    /// What came of reading the fault memory.
    CodesState { None = "none", Read = "read", NotReadable = "not-readable" }
}
words! {
    /// What the driver felt.
    DriveTick {
        Normal = "normal", Late = "late", Harsh = "harsh", Flare = "flare", Shudder = "shudder",
        Noise = "noise", Slip = "slip", Bang = "bang",
    }
}
words! {
    /// Whether the transmission was cold or warm.
    Warmth { Cold = "cold", Warm = "warm" }
}
words! {
    /// What was looked at from outside.
    InspectedPart {
        Housing = "housing", Cooler = "cooler", Wiring = "wiring", Mounts = "mounts",
        ShaftSeals = "shaft-seals", RecalledWork = "recalled-work",
    }
}
words! {
    /// What was found on a part.
    InspectionFound {
        InOrder = "in-order", Damp = "damp", Dripping = "dripping", Damaged = "damaged", PutRight = "put-right",
    }
}
words! {
    /// Where the exchange equipment is connected.
    HookupPlace { CoolerLine = "cooler-line", Transmission = "transmission" }
}
words! {
    /// Parts of the service.
    ServicePart {
        Filter = "filter", PanSeal = "pan-seal", Magnets = "magnets", PanScrews = "pan-screws", Pan = "pan",
        Standpipe = "standpipe", Plug = "plug", PlugSeal = "plug-seal", WiringSleeve = "wiring-sleeve",
    }
}
words! {
    /// A group of screws.
    ScrewGroup { Pan = "pan", Filter = "filter", Other = "other" }
}
words! {
    /// What was seen when looking for leaks, from dry to dripping.
    LeakFound { Dry = "dry", Damp = "damp", Dripping = "dripping" }
}
words! {
    /// A condition that a step needs.
    Condition {
        LiftLocked = "lift-locked", EngineOff = "engine-off", LineClosed = "line-closed",
        PanClosed = "pan-closed", ToolsAndPeopleClear = "tools-and-people-clear",
        HighVoltageIsolated = "high-voltage-isolated", Lowered = "lowered",
    }
}
words! {
    /// The five groups of cautions.
    CautionGroup {
        Lifted = "lifted", LineOpening = "line-opening", EngineRunning = "engine-running",
        PanAndHot = "pan-and-hot", GearsAndLevel = "gears-and-level",
    }
}
words! {
    /// Kinds of waste of a service.
    WasteKind {
        UsedFluid = "used-fluid", Filter = "filter", Cloths = "cloths", EmptyCans = "empty-cans",
    }
}
words! {
    /// What a photo shows.
    PhotoSubject {
        SampleBefore = "sample-before", SampleAfter = "sample-after", Magnets = "magnets",
        TransmissionPlate = "transmission-plate", BodyPlate = "body-plate", Other = "other",
        Filter = "filter",
        Comparison = "comparison",
    }
}
words! {
    /// What somebody's words are about.
    RemarkSubject {
        Complaint = "complaint", Order = "order", DriveBefore = "drive-before", DriveAfter = "drive-after",
        Other = "other",
    }
}
words! {
    /// Why a step was left out.
    SkipReason {
        NotPossible = "not-possible", NotOrdered = "not-ordered", NotSafe = "not-safe",
        ToolMissing = "tool-missing", Later = "later",
    }
}
words! {
    /// What the customer is told or asked about.
    CustomerTopic {
        FaultCodes = "fault-codes", LookInsideFirst = "look-inside-first", NoExchange = "no-exchange",
        CoolerCleaning = "cooler-cleaning", Leak = "leak", PartsUsedAgain = "parts-used-again", Recall = "recall",
    }
}
words! {
    /// What the customer said.
    CustomerSaid { Informed = "informed", Agrees = "agrees", Declines = "declines" }
}
words! {
    /// What a workshop keeps in store.
    Supply {
        Fluid = "fluid", Filter = "filter", Kit = "kit", Seal = "seal", Screws = "screws", Other = "other",
    }
}
words! {
    /// What fluid comes in.
    Container { Drum = "drum", Can = "can" }
}
words! {
    /// Kinds of tools that are checked.
    ToolKind { TorqueTool = "torque-tool", LitreDisplay = "litre-display" }
}
words! {
    /// What happened to a tool.
    ToolEvent { Checked = "checked", Overloaded = "overloaded", TakenOut = "taken-out" }
}
words! {
    /// Whether something holds fluid.
    Held { Fluid = "fluid", Nothing = "nothing" }
}

//! What kind of reagent a substance is, and the words of the tables on what it does. The build script
//! uses this file to check the tables.

/// What becomes of a reagent in the presence of water or of oxygen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sensitivity {
    /// Not at all, or too little to matter on the time scale of a reaction.
    No,
    /// It is lost in part or slowly: the reagent is worth protecting.
    Slowly,
    /// It is destroyed as fast as the two meet.
    Destroyed,
}

macro_rules! vocabulary {
    ($(#[$doc:meta])* $name:ident { $($variant:ident $tag:literal $words:literal)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $(#[doc = concat!("In plain words: ", $words, ".")] $variant,)+
        }

        impl $name {
            /// Every one of them.
            pub const ALL: &[$name] = &[$($name::$variant,)+];

            /// As the tables write it.
            pub fn tag(self) -> &'static str {
                match self { $($name::$variant => $tag,)+ }
            }

            /// In plain words, singular, without an article.
            pub fn name(self) -> &'static str {
                match self { $($name::$variant => $words,)+ }
            }

            /// The one that the tables write so.
            pub fn from_tag(tag: &str) -> Option<$name> {
                match tag { $($tag => Some($name::$variant),)+ _ => None }
            }
        }
    };
}

vocabulary! {
    /// The class of a substance, by what it does in a flask.
    ReagentClass {
        Acid "acid" "acid"
        AcylChloride "acyl-chloride" "acyl chloride"
        Adsorbent "adsorbent" "adsorbent"
        Alcohol "alcohol" "alcohol"
        Aldehyde "aldehyde" "aldehyde"
        AlkaliMetal "alkali-metal" "alkali metal"
        AlkalineEarthMetal "alkaline-earth-metal" "alkaline earth metal"
        Alkoxide "alkoxide" "alkoxide"
        AlkylHalide "alkyl-halide" "alkyl halide"
        AluminiumHydride "aluminium-hydride" "aluminium hydride"
        AmideBase "amide-base" "metal amide base"
        AmideSolvent "amide-solvent" "amide solvent"
        Amine "amine" "amine"
        Anhydride "anhydride" "anhydride"
        ArylHalide "aryl-halide" "aryl halide"
        Azide "azide" "azide"
        Base "base" "base"
        Borane "borane" "borane"
        Borohydride "borohydride" "borohydride"
        Carbodiimide "carbodiimide" "carbodiimide"
        Chloroformate "chloroformate" "chloroformate"
        Copper1 "copper-i" "copper(I) salt"
        Cyanide "cyanide" "cyanide"
        DryingAgent "drying-agent" "drying agent"
        Ester "ester" "ester"
        Ether "ether" "ether"
        Grignard "grignard" "Grignard reagent"
        HalogenatedSolvent "halogenated-solvent" "halogenated solvent"
        Hydrocarbon "hydrocarbon" "hydrocarbon"
        Hydrogen "hydrogen" "hydrogen"
        HydrogenationCatalyst "hydrogenation-catalyst" "hydrogenation catalyst"
        InertGas "inert-gas" "inert gas"
        Isocyanate "isocyanate" "isocyanate"
        Ketone "ketone" "ketone"
        LowValentMetal "low-valent-metal" "low-valent metal reductant"
        MetalHydride "metal-hydride" "metal hydride"
        Nickel0 "ni0" "nickel(0) complex"
        Nitrile "nitrile" "nitrile"
        Organoaluminium "organoaluminium" "organoaluminium"
        Organolithium "organolithium" "organolithium"
        Organozinc "organozinc" "organozinc"
        Oxidant "oxidant" "oxidant"
        PalladiumPhosphine "pd-phosphine" "palladium complex of a trialkylphosphine"
        RobustPalladium "pd-robust" "air-stable palladium catalyst"
        Palladium0 "pd0" "palladium(0) complex"
        Peroxide "peroxide" "peroxide"
        PhosphorusHalide "phosphorus-halide" "phosphorus halide"
        Salt "salt" "salt"
        SilylChloride "silyl-chloride" "silyl halide"
        SilylTriflate "silyl-triflate" "silyl triflate"
        StrongLewisAcid "strong-lewis-acid" "strong Lewis acid"
        SulfonylChloride "sulfonyl-chloride" "sulfonyl chloride"
        Sulfoxide "sulfoxide" "sulfoxide"
        Thiol "thiol" "thiol"
        ThionylHalide "thionyl-halide" "thionyl or sulfuryl halide"
        TolerantLewisAcid "tolerant-lewis-acid" "water-tolerant Lewis acid"
        Trialkylphosphine "trialkylphosphine" "trialkylphosphine"
        Triarylphosphine "triarylphosphine" "triarylphosphine"
        Uronium "uronium" "uronium or phosphonium coupling reagent"
        Water "water" "water"
        Ylide "ylide" "phosphorus ylide"
    }
}

vocabulary! {
    /// A property worth a word in a plan.
    Tag {
        AirSensitive "air-sensitive" "air-sensitive"
        Halogenated "halogenated" "halogenated"
        HygroscopicMild "hygroscopic-mild" "mildly hygroscopic"
        HygroscopicStrong "hygroscopic-strong" "strongly hygroscopic"
        LightSensitive "light-sensitive" "light-sensitive"
        MoistureSensitive "moisture-sensitive" "moisture-sensitive"
        PeroxideFormer "peroxide-former" "forms peroxides on standing in air"
        Protic "protic" "protic"
        Pyrophoric "pyrophoric" "pyrophoric"
        Solvent "solvent" "solvent"
        SoldDiluted "sold-diluted" "seldom sold pure"
        Stabilised "stabilised" "sold with a stabiliser"
        Volatile "volatile" "volatile"
        WaterImmiscible "water-immiscible" "not miscible with water"
        WaterMiscible "water-miscible" "miscible with water"
    }
}

impl Tag {
    /// The bit that stands for it in the written table.
    pub(crate) fn bit(self) -> u16 {
        1 << self as u16
    }
}

vocabulary! {
    /// What sets a gas free.
    GasAgent {
        Water "water" "water or an alcohol"
        Acid "acid" "acid"
        NitrousAcid "nitrous-acid" "nitrous acid"
        Base "base" "base"
        Oxidant "oxidant" "hypochlorite"
        Catalyst "catalyst" "a metal or another catalyst"
        Heat "heat" "heat"
    }
}

vocabulary! {
    /// How a substance that forms peroxides becomes dangerous.
    PeroxideHazard {
        OnStorage "storage" "forms dangerous peroxides on standing (class A)"
        OnConcentration "concentration" "forms peroxides that are dangerous when concentrated (class B)"
        Polymerising "polymerisation" "forms peroxides that set off its polymerisation (class C)"
        Unclassed "unclassed" "may form peroxides (class D)"
    }
}

vocabulary! {
    /// How much of it and water mix at room temperature.
    Miscibility {
        Miscible "miscible" "miscible with water"
        Partly "partly" "partly miscible with water"
        Immiscible "immiscible" "not miscible with water"
    }
}

vocabulary! {
    /// When a limit of temperature holds.
    LimitWhen {
        Any "any" "at any strength"
        Neat "neat" "neat or concentrated"
        Dry "dry" "dry"
        WithBase "base" "with base"
    }
}

impl ReagentClass {
    /// What water does to it, in a medium that is otherwise dry and aprotic (common practice).
    pub fn destroyed_by_water(self) -> Sensitivity {
        use ReagentClass as C;
        match self {
            C::AcylChloride
            | C::AlkaliMetal
            | C::AluminiumHydride
            | C::AmideBase
            | C::Borane
            | C::Grignard
            | C::MetalHydride
            | C::Organoaluminium
            | C::Organolithium
            | C::Organozinc
            | C::PhosphorusHalide
            | C::SilylChloride
            | C::SilylTriflate
            | C::StrongLewisAcid
            | C::ThionylHalide => Sensitivity::Destroyed,
            C::Alkoxide
            | C::Anhydride
            | C::Chloroformate
            | C::Isocyanate
            | C::SulfonylChloride
            | C::Ylide => Sensitivity::Slowly,
            _ => Sensitivity::No,
        }
    }

    /// What the oxygen of air does to it at room temperature (common practice).
    pub fn destroyed_by_oxygen(self) -> Sensitivity {
        use ReagentClass as C;
        match self {
            C::Grignard
            | C::LowValentMetal
            | C::Nickel0
            | C::Organoaluminium
            | C::Organolithium
            | C::Organozinc
            | C::Palladium0
            | C::PalladiumPhosphine
            | C::Trialkylphosphine => Sensitivity::Destroyed,
            C::AlkaliMetal | C::AmideBase | C::Copper1 | C::Thiol | C::Ylide => Sensitivity::Slowly,
            _ => Sensitivity::No,
        }
    }

    /// Whether it does its work in the presence of water or alcohol, so that water on purpose is
    /// no mistake (common practice).
    pub fn protic_tolerant(self) -> bool {
        use ReagentClass as C;
        matches!(
            self,
            C::Borohydride
                | C::Carbodiimide
                | C::HydrogenationCatalyst
                | C::LowValentMetal
                | C::RobustPalladium
                | C::TolerantLewisAcid
                | C::Uronium
        )
    }
}

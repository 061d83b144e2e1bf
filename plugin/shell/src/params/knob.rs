//! A parameter without its type: what an editor and a state mender need to know of it.

use nice_plug::prelude::{BoolParam, Enum, EnumParam, FloatParam, IntParam, Param, ParamSetter};

use super::FigwortParams;

/// What kind of values a parameter takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Any number in a range.
    Real {
        /// Least value.
        min: f64,
        /// Greatest value.
        max: f64,
    },
    /// Any whole number in a range.
    Whole {
        /// Least value.
        min: i32,
        /// Greatest value.
        max: i32,
    },
    /// On or off.
    Switch,
    /// One of a list, by index.
    Choice(&'static [&'static str]),
}

/// A parameter without its type. Plain values are numbers: the value itself, 0 or 1, or an index.
pub trait Knob {
    /// The name as the host shows it.
    fn label(&self) -> &str;
    /// What values it takes.
    fn kind(&self) -> Kind;
    /// The present value.
    fn value(&self) -> f64;
    /// The value when nobody has set anything.
    fn usual(&self) -> f64;
    /// A value in words, with its unit.
    fn words(&self, value: f64) -> String;
    /// The value that words mean; `None` when they mean nothing.
    fn meant(&self, words: &str) -> Option<f64>;
    /// Tells the host that a movement begins.
    fn begin(&self, setter: &ParamSetter<'_>);
    /// Sets the value and tells the host; between [`Knob::begin`] and [`Knob::end`].
    fn set(&self, setter: &ParamSetter<'_>, value: f64);
    /// Tells the host that the movement is over.
    fn end(&self, setter: &ParamSetter<'_>);
}

macro_rules! knob {
    ([$($generics:tt)*] $param:ty, $kind:expr, $number:expr, $plain:expr) => {
        impl<$($generics)*> Knob for $param {
            fn label(&self) -> &str {
                Param::name(self)
            }
            fn kind(&self) -> Kind {
                $kind(self)
            }
            fn value(&self) -> f64 {
                $number(self.unmodulated_plain_value())
            }
            fn usual(&self) -> f64 {
                $number(self.default_plain_value())
            }
            fn words(&self, value: f64) -> String {
                self.normalized_value_to_string(self.preview_normalized($plain(value)), true)
            }
            fn meant(&self, words: &str) -> Option<f64> {
                let normalized = self.string_to_normalized_value(words)?;
                Some($number(self.preview_plain(normalized)))
            }
            fn begin(&self, setter: &ParamSetter<'_>) {
                setter.begin_set_parameter(self);
            }
            fn set(&self, setter: &ParamSetter<'_>, value: f64) {
                // By way of the normalised value, which brings it onto the parameter's grid.
                let normalized = self.preview_normalized($plain(value));
                setter.set_parameter(self, self.preview_plain(normalized));
            }
            fn end(&self, setter: &ParamSetter<'_>) {
                setter.end_set_parameter(self);
            }
        }
    };
}

knob!(
    [] FloatParam,
    |p: &FloatParam| Kind::Real { min: f64::from(p.preview_plain(0.0)), max: f64::from(p.preview_plain(1.0)) },
    f64::from,
    |value: f64| value as f32
);
knob!(
    [] IntParam,
    |p: &IntParam| Kind::Whole { min: p.preview_plain(0.0), max: p.preview_plain(1.0) },
    f64::from,
    |value: f64| value.round() as i32
);
knob!([] BoolParam, |_: &BoolParam| Kind::Switch, |on: bool| f64::from(u8::from(on)), |value: f64| value > 0.5);
knob!(
    [E: Enum + PartialEq + 'static] EnumParam<E>,
    |_: &EnumParam<E>| Kind::Choice(E::variants()),
    |choice: E| choice.to_index() as f64,
    |value: f64| E::from_index(value.round().max(0.0) as usize)
);

macro_rules! controls {
    ($($name:ident = $field:ident),* $(,)?) => {
        /// Names every parameter.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[allow(missing_docs, reason = "the table in the module above says what each is")]
        pub enum Control { $($name),* }

        impl Control {
            /// All of them, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// The id in projects and automation.
            pub const fn id(self) -> &'static str {
                match self { $(Self::$name => stringify!($field)),* }
            }
        }

        impl FigwortParams {
            /// A parameter without its type.
            pub fn knob(&self, control: Control) -> &dyn Knob {
                match control { $(Control::$name => &self.$field),* }
            }
        }
    };
}

controls! {
    Bypass = bypass,
    Manner = manner,
    Elaboration = elaboration,
    Wait = wait,
    Space = space,
    Source = source,
    Split = split,
    MelodyChannel = melody_channel,
    ChordChannel = chord_channel,
    Latch = latch,
    Reach = reach,
    Clarity = clarity,
    OnePlayer = one_player,
    Level = level,
    Pedal = pedal,
    Dry = dry,
    Tempo = tempo,
    Seed = seed,
    Finish = finish,
    Outputs = outputs,
    Audition = audition,
    Colour = colour,
    Start = start,
    Swing = swing,
    Sheet = sheet,
    SheetBar = sheet_bar,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every value of every parameter can be written out and read back.
    #[test]
    fn words_and_values_are_inverse() {
        let params = FigwortParams::default();
        for control in Control::ALL {
            let knob = params.knob(*control);
            let (min, max) = match knob.kind() {
                Kind::Real { min, max } => (min, max),
                Kind::Whole { min, max } => (f64::from(min), f64::from(max)),
                Kind::Switch => (0.0, 1.0),
                Kind::Choice(names) => (0.0, names.len() as f64 - 1.0),
            };
            let steps = (max - min).clamp(20.0, 500.0) as usize;
            for step in 0..=steps {
                let value = min + (max - min) * step as f64 / steps as f64;
                let words = knob.words(value);
                let read =
                    knob.meant(&words).unwrap_or_else(|| panic!("{control:?}: {words:?} not understood"));
                assert_eq!(knob.words(read), words, "{control:?} at {value}");
            }
            assert_eq!(knob.value(), knob.usual(), "{control:?}");
            assert!(knob.meant("no such thing").is_none(), "{control:?}");
        }
    }
}

//! Choices that are words in files, on the command line and on screens.

/// Declares an enum with the word of each choice: `ALL` of them in the order in which they stand, the `name` of one,
/// the one `named`, and the values that an option of the command line takes. A choice that `was` called otherwise is
/// known by its old word too, wherever one is read; written and listed is the new one.
macro_rules! words {
    (
        $(#[$about:meta])*
        $seen:vis enum $Choice:ident {
            $($(#[$said:meta])* $One:ident = $word:literal $(was $old:literal)?,)+
        }
    ) => {
        $(#[$about])*
        $seen enum $Choice { $($(#[$said])* $One,)+ }

        impl $Choice {
            /// All of them, the usual one first.
            $seen const ALL: [Self; [$($word),+].len()] = [$(Self::$One),+];

            /// The word for it.
            $seen fn name(self) -> &'static str {
                match self { $(Self::$One => $word,)+ }
            }

            /// The one with this name.
            #[allow(dead_code, reason = "not every choice is read back")]
            $seen fn named(name: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|one| one.name() == name || one.was().contains(&name))
            }

            /// What it was called before.
            fn was(self) -> &'static [&'static str] {
                match self { $(Self::$One => &[$($old)?],)+ }
            }
        }

        impl clap::ValueEnum for $Choice {
            fn value_variants<'a>() -> &'a [Self] {
                &Self::ALL
            }

            fn to_possible_value(&self) -> Option<clap::builder::PossibleValue> {
                Some(clap::builder::PossibleValue::new(self.name()).aliases(self.was().iter().copied()))
            }
        }
    };
}

pub(crate) use words;

#[cfg(test)]
mod tests {
    use clap::ValueEnum as _;

    words! {
        /// A tide.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        enum Tide {
            /// It comes in.
            Flood = "flood",
            /// It goes out.
            Ebb = "ebb",
            /// It turns.
            SlackWater = "slack-water" was "slack",
        }
    }

    #[test]
    fn a_choice_is_found_by_its_word_and_by_no_other() {
        assert_eq!(Tide::ALL.map(Tide::name), ["flood", "ebb", "slack-water"]);
        assert!(Tide::ALL.into_iter().all(|tide| Tide::named(tide.name()) == Some(tide)));
        for other in ["", "Flood", "slack water", "tide"] {
            assert_eq!(Tide::named(other), None, "{other}");
        }
        let option: Vec<_> = Tide::value_variants().iter().filter_map(Tide::to_possible_value).collect();
        assert!(option.iter().map(|value| value.get_name()).eq(Tide::ALL.map(Tide::name)));
        assert_eq!(Tide::from_str("slack-water", false), Ok(Tide::SlackWater));
        assert!(Tide::from_str("Ebb", false).is_err());
    }

    #[test]
    fn what_a_choice_was_called_is_read_and_never_written() {
        assert_eq!(Tide::named("slack"), Some(Tide::SlackWater));
        assert_eq!(Tide::from_str("slack", false), Ok(Tide::SlackWater));
        let value = Tide::SlackWater.to_possible_value().unwrap();
        assert_eq!((value.get_name(), Tide::SlackWater.name()), ("slack-water", "slack-water"));
    }
}

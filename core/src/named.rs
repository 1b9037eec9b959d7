//! Enums whose variants have names.

/// An enum whose every variant stands once, beside its word: it gets `ALL`, in the
/// order written, and the function that gives the word. The docs that stand before
/// that function are its own.
///
/// ```
/// sinistra_core::named! {
///     #[derive(Clone, Copy, Debug, PartialEq)]
///     pub enum Hand {
///         Left = "left",
///         Right = "right",
///     }
///     /// In reports.
///     name
/// }
/// assert_eq!(Hand::ALL.map(Hand::name), ["left", "right"]);
/// ```
#[macro_export]
macro_rules! named {
    (
        $(#[$meta:meta])*
        $vis:vis enum $of:ident { $($(#[$about:meta])* $variant:ident = $word:literal,)+ }
        $(#[$doc:meta])*
        $name:ident
    ) => {
        $(#[$meta])*
        $vis enum $of { $($(#[$about])* $variant,)+ }

        impl $of {
            /// All, in the order in which they are shown.
            $vis const ALL: [Self; [$($word),+].len()] = [$(Self::$variant),+];

            $(#[$doc])*
            #[must_use]
            $vis const fn $name(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }
    };
}

//! Numbers in options: one check, in a musician's words.

/// Reads a whole number from `least` to `most`; for clap's `value_parser`.
pub fn whole<T: TryFrom<i64>>(
    least: i64,
    most: i64,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static {
    move |text| {
        let number = text.trim().parse::<i64>().ok();
        let number = number.filter(|number| (least..=most).contains(number));
        let number = number.and_then(|number| T::try_from(number).ok());
        number.ok_or_else(|| match most {
            i64::MAX => format!("a whole number from {least} on is meant"),
            _ => format!("a whole number from {least} to {most} is meant"),
        })
    }
}

/// Reads a number from `least` to `most`, with or without decimals; `of` says
/// what it counts, such as "beats a minute". Neither endless nor no number is one.
pub fn decimal(
    least: f64,
    most: f64,
    of: &'static str,
) -> impl Fn(&str) -> Result<f64, String> + Clone + Send + Sync + 'static {
    move |text| {
        let number = text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
        number
            .filter(|number| (least..=most).contains(number))
            .ok_or_else(|| format!("{least} to {most} {of} are meant"))
    }
}

/// Felt beats a minute, as in a chart.
pub fn tempo(text: &str) -> Result<f64, String> {
    decimal(20.0, 400.0, "beats a minute")(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_their_range_in_words() {
        let busy = whole::<u8>(0, 100);
        assert_eq!(busy("50"), Ok(50));
        for text in ["-1", "101", "", "x", "5.5", "1e3", "99999999999999999999"] {
            assert_eq!(busy(text), Err("a whole number from 0 to 100 is meant".into()), "{text}");
        }
        let beats = decimal(0.0, 16.0, "quarter notes");
        assert_eq!(beats("1.5"), Ok(1.5));
        for text in ["NaN", "nan", "inf", "-inf", "17", "-0.1", "1e400", "one"] {
            assert_eq!(beats(text), Err("0 to 16 quarter notes are meant".into()), "{text}");
        }
    }
}

//! What a plan is read against besides its own text: the bottles at hand, the settings, and
//! today's date.

use crate::inventory::Inventory;
use crate::settings::Settings;
use std::fmt;
use std::sync::{Arc, LazyLock};

/// The surroundings of a plan. The default knows no bottles and no date, and has the settings of common practice.
#[derive(Clone, Debug)]
pub struct Context {
    /// The inventory, where there is one.
    pub inventory: Option<Arc<Inventory>>,
    /// The settings, where there are any.
    pub settings: Arc<Settings>,
    /// Today. Without it nothing is old or expired.
    pub today: Option<Date>,
}

impl Default for Context {
    fn default() -> Self {
        // Which tools there are is looked up only once.
        static SETTINGS: LazyLock<Arc<Settings>> = LazyLock::new(Arc::default);
        Context {
            inventory: None,
            settings: SETTINGS.clone(),
            today: None,
        }
    }
}

impl PartialEq for Context {
    /// Whether they are the very same files, on the same day.
    fn eq(&self, other: &Context) -> bool {
        let same_inventory = match (&self.inventory, &other.inventory) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        same_inventory && Arc::ptr_eq(&self.settings, &other.settings) && self.today == other.today
    }
}

/// A day of the Gregorian calendar, of the years 0 to 9999.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// The day, if there is such a day.
    #[must_use]
    pub fn new(year: u16, month: u8, day: u8) -> Option<Date> {
        let exists = year <= 9999 && (1..=days_of(year, month)).contains(&day);
        exists.then_some(Date { year, month, day })
    }

    /// The day so many days after 1 January 1970, from that day on.
    #[must_use]
    pub fn after_1970(days: u32) -> Option<Date> {
        let mut left = days;
        for year in 1970..=9999 {
            for month in 1..=12 {
                let length = u32::from(days_of(year, month));
                if left < length {
                    return Date::new(year, month, u8::try_from(left + 1).ok()?);
                }
                left -= length;
            }
        }
        None
    }

    /// Days from another day to this one; negative if that one is later.
    #[must_use]
    pub fn days_since(self, earlier: Date) -> i64 {
        self.number() - earlier.number()
    }

    /// Days since the first of January of the year 0.
    fn number(self) -> i64 {
        let year = i64::from(self.year);
        // Leap days of the years before this one; the year 0 is a leap year.
        let leaps = (year + 3) / 4 - (year + 99) / 100 + (year + 399) / 400;
        let months = (1..self.month).map(|month| i64::from(days_of(self.year, month)));
        year * 365 + leaps + months.sum::<i64>() + i64::from(self.day) - 1
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

fn days_of(year: u16, month: u8) -> u8 {
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        1..=12 => 31,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(year: u16, month: u8, day: u8) -> Date {
        Date::new(year, month, day).expect("a day")
    }

    #[test]
    fn days_that_do_not_exist_are_refused() {
        for (year, month, day) in [
            (2025, 2, 29),
            (1900, 2, 29),
            (2025, 4, 31),
            (2025, 0, 1),
            (2025, 13, 1),
            (2025, 1, 0),
        ] {
            assert_eq!(Date::new(year, month, day), None, "{year}-{month}-{day}");
        }
        assert!(Date::new(2000, 2, 29).is_some() && Date::new(2024, 2, 29).is_some());
    }

    /// Unix times of midnights, from the POSIX definition of seconds since the Epoch (IEEE Std 1003.1, 4.19):
    /// 946,684,800 is 2000-01-01 and 1,709,164,800 is 2024-02-29, over 86,400 s.
    #[test]
    fn days_are_counted_as_the_calendar_has_them() {
        let epoch = date(1970, 1, 1);
        for (day, seconds) in [
            (epoch, 0),
            (date(2000, 1, 1), 946_684_800),
            (date(2024, 2, 29), 1_709_164_800),
        ] {
            assert_eq!(day.days_since(epoch), seconds / 86_400);
            assert_eq!(
                Date::after_1970(u32::try_from(seconds / 86_400).expect("days")),
                Some(day)
            );
        }
        assert_eq!(date(2026, 3, 1).days_since(date(2026, 2, 1)), 28);
        assert_eq!(date(2026, 2, 1).days_since(date(2026, 3, 1)), -28);
        assert_eq!(date(2026, 3, 1).to_string(), "2026-03-01");
        assert_eq!(Date::after_1970(u32::MAX), None);
    }
}

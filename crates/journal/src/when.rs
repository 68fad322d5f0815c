//! When a take was recorded: an instant, and the player's own clock at that instant.

use jiff::civil::{Date, Time};
use jiff::fmt::temporal::Pieces;
use jiff::tz::{Offset, TimeZone};
use jiff::{Timestamp, ToSpan};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt::{Display, Formatter};
use std::str::FromStr;

/// An instant to the millisecond with the offset of the player's clock from UTC, so that the local day and the time of
/// day survive a move to another time zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct RecordedAt {
    at: Timestamp,
    offset: Offset,
}

/// A day of the player's calendar, counted from 1970-01-01.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day(pub i32);

const EPOCH: Date = jiff::civil::date(1970, 1, 1);

impl RecordedAt {
    /// 1970-01-01 in UTC.
    pub const EPOCH: Self = Self { at: Timestamp::UNIX_EPOCH, offset: Offset::UTC };

    /// From milliseconds since 1970-01-01 UTC and seconds east of UTC; `None` outside the years -9999 to 9999 or
    /// beyond 25:59:59 of offset.
    pub fn new(milliseconds: i64, offset_s: i32) -> Option<Self> {
        let at = Timestamp::from_millisecond(milliseconds).ok()?;
        Some(Self { at, offset: Offset::from_seconds(offset_s).ok()? })
    }

    /// An instant on this machine's clock.
    pub fn local(milliseconds: i64) -> Option<Self> {
        let at = Timestamp::from_millisecond(milliseconds).ok()?;
        Some(Self { at, offset: TimeZone::system().to_offset(at) })
    }

    /// A file's time on this machine's clock.
    pub fn of_file(time: std::time::SystemTime) -> Option<Self> {
        Self::local(Timestamp::try_from(time).ok()?.as_millisecond())
    }

    /// Milliseconds since 1970-01-01 UTC.
    pub fn milliseconds(self) -> i64 {
        self.at.as_millisecond()
    }

    /// Seconds that the player's clock was east of UTC.
    pub fn offset_s(self) -> i32 {
        self.offset.seconds()
    }

    /// The player's own date and time of day: 2026-03-01 18:20
    pub fn to_the_minute(self) -> String {
        self.offset.to_datetime(self.at).strftime("%Y-%m-%d %H:%M").to_string()
    }

    /// This time put right: a text that [`FromStr`] reads, on the player's own clock of then, where it names no other; a day
    /// alone keeps the time of day.
    ///
    /// # Errors
    /// As [`FromStr`].
    pub fn mended(self, text: &str) -> Result<Self, String> {
        let read: Self = text.parse()?;
        let wrong = |e| format!("{text:?}: {e}");
        let pieces = Pieces::parse(text.trim()).map_err(wrong)?;
        if pieces.to_numeric_offset().is_some() {
            return Ok(read);
        }
        let time = pieces.time().unwrap_or(self.offset.to_datetime(self.at).time());
        let at = self.offset.to_timestamp(pieces.date().to_datetime(time)).map_err(wrong)?;
        let at = Timestamp::from_millisecond(at.as_millisecond()).map_err(wrong)?;
        Ok(Self { at, offset: self.offset })
    }

    /// The player's local day.
    pub fn day(self) -> Day {
        Day::of(self.offset.to_datetime(self.at).date())
    }
}

impl Display for RecordedAt {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        self.at.display_with_offset(self.offset).fmt(f)
    }
}

impl FromStr for RecordedAt {
    type Err = String;

    /// Reads `2026-03-01T18:20:00+01:00` (RFC 3339), `2026-03-01T18:20` or `2026-03-01 18:20` on this machine's clock,
    /// or a day alone, which stands for its noon.
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = |_| format!("{text:?} is no time; write 2026-03-01T18:20:00+01:00, 2026-03-01T18:20 or 2026-03-01");
        let pieces = Pieces::parse(text.trim()).map_err(wrong)?;
        let local = pieces.date().to_datetime(pieces.time().unwrap_or(Time::constant(12, 0, 0, 0)));
        let (at, offset) = match pieces.to_numeric_offset() {
            Some(offset) => (offset.to_timestamp(local).map_err(wrong)?, offset),
            None => {
                let zoned = TimeZone::system().to_zoned_datetime(local).map_err(wrong)?;
                (zoned.timestamp(), zoned.offset())
            }
        };
        let at = Timestamp::from_millisecond(at.as_millisecond()).map_err(wrong)?;
        Ok(Self { at, offset })
    }
}

impl Serialize for RecordedAt {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for RecordedAt {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
    }
}

impl Day {
    fn of(date: Date) -> Self {
        // A span of whole days between two dates of the calendar always fits.
        Self(date.since(EPOCH).map_or(0, |span| span.get_days()))
    }

    /// Today on this machine's clock.
    pub fn today() -> Self {
        Self::of(jiff::ZonedDateTime::now().date())
    }

    /// The day as the calendar has it; the epoch where it has none.
    fn date(self) -> Date {
        EPOCH.checked_add(i64::from(self.0).days()).unwrap_or(EPOCH)
    }
}

impl Display for Day {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        self.date().fmt(f)
    }
}

impl Serialize for Day {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
    }
}

impl FromStr for Day {
    type Err = String;

    /// Reads `2026-03-01`.
    fn from_str(text: &str) -> Result<Self, String> {
        let date = text.trim().parse::<Date>();
        date.map(Self::of).map_err(|_| format!("{text:?} is no day; write 2026-03-01"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_local_day_is_the_players_own() {
        let late: RecordedAt = "2026-03-01T23:30:00-08:00".parse().unwrap();
        assert_eq!((late.day().to_string(), late.offset_s()), ("2026-03-01".to_owned(), -8 * 3600));
        assert_eq!(late.to_string(), "2026-03-01T23:30:00-08:00");
        assert_eq!(late.to_the_minute(), "2026-03-01 23:30");
        assert_eq!(RecordedAt::new(late.milliseconds(), 0).unwrap().day().to_string(), "2026-03-02");
        let fine: RecordedAt = "2026-03-01T23:30:00.1259+05:45".parse().unwrap();
        assert_eq!(fine.to_string(), "2026-03-01T23:30:00.125+05:45");
        assert_eq!(RecordedAt::new(fine.milliseconds(), fine.offset_s()), Some(fine));
    }

    #[test]
    fn a_time_is_mended_on_the_clock_that_it_was_recorded_by() {
        let late: RecordedAt = "2026-03-01T23:30:12-08:00".parse().unwrap();
        let told = |text: &str| late.mended(text).unwrap().to_string();
        assert_eq!(told("2026-02-27"), "2026-02-27T23:30:12-08:00");
        assert_eq!(told("2026-02-27T18:20"), "2026-02-27T18:20:00-08:00");
        assert_eq!(told("2026-02-27 18:20+01:00"), "2026-02-27T18:20:00+01:00");
        assert!(late.mended("soon").is_err());
    }

    #[test]
    fn days_count_from_1970() {
        assert_eq!("1970-01-02".parse::<Day>().unwrap(), Day(1));
        assert_eq!("1969-12-31".parse::<Day>().unwrap().to_string(), "1969-12-31");
        assert!("2026-02-30".parse::<Day>().is_err() && "soon".parse::<RecordedAt>().is_err());
        assert_eq!("2026-03-01".parse::<RecordedAt>().unwrap().day().to_string(), "2026-03-01");
    }
}

//! What to heed where a report speaks of tiredness, tempo ceilings or repetitions.

/// The caution that stands wherever tiredness, a ceiling of tempo or more repetitions are spoken of.
pub fn caution() -> &'static str {
    "Stop at pain, numbness or tingling, and rest; if it comes back, see a licensed clinician who treats musicians. \
     Keep listening levels moderate. This is not a medical device."
}

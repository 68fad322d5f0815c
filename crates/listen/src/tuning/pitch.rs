//! Which pitch an attack brought.

/// The longest stretch that is looked at, ms, also the length of the transform (zeros fill up shorter ones): 1,024
/// samples at 11.025 kHz.
pub(crate) const LONGEST_MS: f64 = 92.9;
/// The shortest, ms: faster notes are looked at together with the next one's beginning.
pub(crate) const SHORTEST_MS: f64 = 45.0;
/// The stretch begins so long after the attack, ms: it leaves the pick's noise out.
pub(crate) const AFTER_ATTACK_MS: f64 = 4.0;
/// It ends so long before the next attack, ms.
pub(crate) const BEFORE_NEXT_MS: f64 = 1.0;
/// What sounded before ends so long before the attack, ms: it leaves the attack's own foot out.
pub(crate) const BEFORE_ATTACK_MS: f64 = 2.0;
/// Partials of each key.
pub(crate) const PARTIALS: usize = 14;
/// Weight of partial h is h to this power.
pub(crate) const WEIGHT_POWER: f64 = -0.5;
/// Partials below this are left out, Hz. By reasoning: the windows resolve nothing there.
pub(crate) const LOWEST_HZ: f64 = 110.0;
/// Partials above this are left out, Hz. By reasoning: the decimated signal ends.
pub(crate) const HIGHEST_HZ: f64 = 4_200.0;
/// Stiffness B makes partial h sharp by sqrt(1 + B h^2) (Fletcher & Rossing, The Physics of Musical Instruments,
/// section 2.18); B of guitar strings is 1e-5 to 2e-4, and this is about the middle of their logarithms.
pub(crate) const STIFFNESS: f64 = 5e-5;
/// How far off a partial may lie either way, cents.
pub(crate) const TOLERANCE_CENTS: f64 = 8.0;
/// Magnitudes are compressed with a knee at this share of the largest: -50 dB.
pub(crate) const KNEE: f32 = 3e-3;
/// Weight of what sounds after the attack as such, beside what is new in it.
pub(crate) const STANDING_SHARE: f32 = 0.7;
/// Steps of the evidence to an octave of amplitude: its unit, by definition.
pub(crate) const STEPS_PER_OCTAVE: f32 = 24.0;

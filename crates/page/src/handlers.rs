//! What answers the addresses of [`crate::routes`].

pub(crate) mod assets;
pub(crate) mod clicks;
pub(crate) mod compare;
pub(crate) mod drills;
pub(crate) mod film;
pub(crate) mod history;
pub(crate) mod home;
pub(crate) mod players;
pub(crate) mod record;
pub(crate) mod results;
pub(crate) mod takes;

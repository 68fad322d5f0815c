//! What a place costs: `cargo run --release -p takegauge-locate --example time`.

use std::hint::black_box;
use std::time::Instant;
use takegauge_locate::{Locator, Size};
use takegauge_units::Millis;

fn main() {
    let sound: Vec<f32> = (0..44_100).map(|i| (0.05 * i as f32).sin() * (0.0003 * i as f32).cos()).collect();
    let only = std::env::args().nth(1).map_or(4, |_| 1);
    for (size, rate) in
        [(Size::Quick, 22_050.0), (Size::Quick, 24_000.0), (Size::Thorough, 22_050.0), (Size::Thorough, 44_100.0)]
            .into_iter()
            .take(only)
    {
        let mut locator = Locator::new(size, rate);
        let (begun, count) = (Instant::now(), 20_000 / only as u32);
        for i in 0..count {
            black_box(locator.locate(&sound, 10_000.0 + f64::from(i), Millis(4.0)));
        }
        println!("{size:?} at {rate} Hz: {:.1} microseconds", begun.elapsed().as_secs_f64() * 1e6 / f64::from(count));
    }
}

//! How long alignment takes: one drill's takes, a long practice session, and an evening of noodling.

#[path = "../tests/common/mod.rs"]
mod common;

use common::{Faults, Player, scale, steady, tidy};
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use takegauge_align::align;

fn session(passes: usize, noodles: usize) -> Player {
    let drill = scale();
    let count = drill.grid().len();
    let mut player = Player::new(1);
    let mut time = 1.0;
    for _ in 0..passes {
        let faults = Faults { missed: 0.02, extra: 0.02, wrong: 0.01, ..tidy() };
        time = player.play(&drill, 0..count, time, 160.0, faults) + 1.5;
    }
    player.noodle(&drill, time, noodles, 8.0);
    player.in_order();
    player
}

fn bench(c: &mut Criterion) {
    let drill = scale();
    let grid = drill.grid();
    for (name, passes, noodles) in [
        ("400 notes", 5, 0),
        ("2,000 notes", 23, 0),
        ("20,000 notes", 228, 0),
        ("a pass and 10,000 noodled", 1, 10_000),
    ] {
        let player = session(passes, noodles);
        let mut group = c.benchmark_group("align");
        group.sample_size(10);
        group.bench_function(name, |b| {
            b.iter_batched(
                || player.attacks.clone(),
                |attacks| black_box(align(&attacks, common::rate(), &grid, &drill, &steady())),
                BatchSize::LargeInput,
            );
        });
        group.finish();
    }
}

criterion_group!(benches, bench);
criterion_main!(benches);

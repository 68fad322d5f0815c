//! Ten seconds of plucked scale at 44.1 kHz.

#[path = "../tests/common/mod.rs"]
mod common;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use takegauge_listen::Listener;
use takegauge_units::SampleRate;

fn listen(c: &mut Criterion) {
    let sound = common::plucks(44_100.0, 10.0, &common::scale(95, 0.1));
    let Some(rate) = SampleRate::new(44_100) else { return };
    let mut group = c.benchmark_group("ten seconds");
    group.throughput(Throughput::Elements(sound.len() as u64));
    group.bench_function("attacks", |b| {
        b.iter(|| {
            let mut listener = Listener::new(rate);
            listener.push(black_box(&sound));
            listener.finish()
        });
    });
    group.finish();
}

criterion_group!(benches, listen);
criterion_main!(benches);

//! The samples of a recording's first channel as 32 bit floating point, little-endian, on standard output: for tests/reference/formats.py.

use std::io::Write;
use takegauge_audio::{ChannelChoice, TakeReader};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args_os().nth(1).ok_or("which recording?")?;
    let mut reader = TakeReader::open(std::path::Path::new(&path), ChannelChoice::Left)?;
    let mut out = std::io::stdout().lock();
    while let Some(block) = reader.next_block()? {
        out.write_all(&block.iter().flat_map(|x| x.to_le_bytes()).collect::<Vec<_>>())?;
    }
    Ok(())
}

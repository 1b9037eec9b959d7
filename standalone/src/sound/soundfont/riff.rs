//! Whether a file's chunks lie inside it, before anybody makes room for them.

/// The form of a SoundFont 2 file, and that no chunk claims more bytes than
/// its parent has: a spoiled length would otherwise ask for gigabytes.
///
/// Source: SoundFont Technical Specification 2.04, chapters 2 to 4.
pub fn holds_together(bytes: &[u8]) -> Result<(), String> {
    let Some(([b'R', b'I', b'F', b'F'], rest)) = bytes.split_first_chunk() else {
        return Err("it does not begin as one".into());
    };
    let body = body(rest).ok_or("it is cut off")?;
    let Some(([b's', b'f', b'b', b'k'], mut rest)) = body.split_first_chunk() else {
        return Err("it does not begin as one".into());
    };
    while let Some((name, after)) = rest.split_first_chunk::<4>() {
        let inside = self::body(after).ok_or("it is cut off")?;
        if name == b"LIST" {
            chunks_fit(inside.get(4..).ok_or("it is cut off")?)?;
        }
        rest = after.get(4 + inside.len().next_multiple_of(2)..).unwrap_or_default();
    }
    Ok(())
}

fn chunks_fit(mut rest: &[u8]) -> Result<(), String> {
    while rest.len() >= 8 {
        let (name, after) = rest.split_at(4);
        let inside =
            body(after).ok_or_else(|| format!("its chunk `{}` is cut off", name.escape_ascii()))?;
        rest = after.get(4 + inside.len().next_multiple_of(2)..).unwrap_or_default();
    }
    Ok(())
}

/// A chunk's contents, from its length on; `None` if they are not all there.
fn body(from_length: &[u8]) -> Option<&[u8]> {
    let (length, rest) = from_length.split_first_chunk::<4>()?;
    rest.get(..u32::from_le_bytes(*length) as usize)
}

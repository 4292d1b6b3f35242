//! A strict reader of SSH's wire types (RFC 4251 §5) inside keys and signatures.
//!
//! It exists because the crate that does the cryptography reads loosely: it leaves bytes behind inside a
//! length-prefixed part without a word. Here every part must be used up. It writes nothing.

/// Where the wire data stopped making sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct WireError(pub(super) &'static str);

/// Reads wire types off the front of some bytes.
pub(super) struct Wire<'a>(&'a [u8]);

impl<'a> Wire<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self(bytes)
    }

    /// Exactly `count` bytes.
    pub(super) fn take(&mut self, count: usize) -> Result<&'a [u8], WireError> {
        let (taken, rest) = self.0.split_at_checked(count).ok_or(WireError("it ends too early"))?;
        self.0 = rest;
        Ok(taken)
    }

    /// `byte`.
    pub(super) fn byte(&mut self) -> Result<u8, WireError> {
        self.take(1).map(|taken| taken[0])
    }

    /// `uint32`, big-endian.
    pub(super) fn uint32(&mut self) -> Result<u32, WireError> {
        let taken = self.take(4)?;
        Ok(u32::from_be_bytes([taken[0], taken[1], taken[2], taken[3]]))
    }

    /// `string`: a length and as many bytes.
    pub(super) fn string(&mut self) -> Result<&'a [u8], WireError> {
        let length = self.uint32()?;
        self.take(usize::try_from(length).map_err(|_| WireError("it ends too early"))?)
    }

    /// A `string` that is text.
    pub(super) fn text(&mut self) -> Result<&'a str, WireError> {
        std::str::from_utf8(self.string()?).map_err(|_| WireError("a name in it is not UTF-8"))
    }

    /// `mpint`, positive, at most `longest` bytes of value, in its one shortest form.
    pub(super) fn positive(&mut self, longest: usize) -> Result<&'a [u8], WireError> {
        let written = self.string()?;
        let value = match written {
            [] => return Err(WireError("a number in it is zero")),
            [0, rest @ ..] if rest.first().is_some_and(|first| *first >= 0x80) => rest,
            [0, ..] => return Err(WireError("a number in it has needless leading zeros")),
            [first, ..] if *first >= 0x80 => return Err(WireError("a number in it is negative")),
            whole => whole,
        };
        if value.len() > longest {
            return Err(WireError("a number in it is too long for its curve"));
        }
        Ok(written)
    }

    /// Ends the reading; anything left over is an error.
    pub(super) fn finish(self) -> Result<(), WireError> {
        if self.0.is_empty() { Ok(()) } else { Err(WireError("it has bytes left over")) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_one_form() {
        // RFC 4251 §5 gives 00 00 00 02 00 80 for 0x80, and forbids unnecessary leading zero bytes.
        for (bytes, reads) in [
            (&[0, 0, 0, 2, 0, 0x80][..], true),
            (&[0, 0, 0, 1, 0x7f], true),
            (&[0, 0, 0, 1, 0x80], false),
            (&[0, 0, 0, 2, 0, 0x7f], false),
            (&[0, 0, 0, 1, 0], false),
            (&[0, 0, 0, 0], false),
            (&[0, 0, 0, 3, 1, 1, 1], false),
            (&[0, 0, 0, 2, 1], false),
        ] {
            assert_eq!(Wire::new(bytes).positive(2).is_ok(), reads, "{bytes:?}");
        }
    }

    #[test]
    fn every_byte_must_be_used() {
        let mut wire = Wire::new(&[0, 0, 0, 1, b'a', 9]);
        assert_eq!(wire.text(), Ok("a"));
        assert_eq!(wire.finish(), Err(WireError("it has bytes left over")));
        assert_eq!(Wire::new(&[0xff, 0xff, 0xff, 0xff, 1]).string(), Err(WireError("it ends too early")));
        assert_eq!(Wire::new(&[0, 0]).uint32(), Err(WireError("it ends too early")));
    }
}

//! The connection file that a front end writes for its kernel.

use std::net::{IpAddr, SocketAddr};
use std::path::Path;

use serde_json::Value;

use super::KernelError;

/// Where to listen, and the key for signatures.
pub(super) struct Connection {
    pub(super) shell: SocketAddr,
    pub(super) control: SocketAddr,
    pub(super) stdin: SocketAddr,
    pub(super) iopub: SocketAddr,
    pub(super) heartbeat: SocketAddr,
    pub(super) key: String,
}

impl Connection {
    pub(super) fn read(path: &Path) -> Result<Connection, KernelError> {
        let text = std::fs::read_to_string(path).map_err(|source| KernelError::File {
            path: path.to_owned(),
            source,
        })?;
        Connection::parse(&text).map_err(|what| KernelError::Connection {
            path: path.to_owned(),
            what,
        })
    }

    /// Reads the text of the file; an error says what is wrong with it.
    fn parse(text: &str) -> Result<Connection, String> {
        let file: Value = serde_json::from_str(text).map_err(|e| format!("it is no JSON: {e}"))?;
        let transport = file["transport"].as_str().unwrap_or("tcp");
        if transport != "tcp" {
            return Err(format!(
                "its transport is `{transport}`, and only `tcp` is spoken here"
            ));
        }
        let scheme = file["signature_scheme"].as_str().unwrap_or("hmac-sha256");
        if scheme != "hmac-sha256" {
            return Err(format!(
                "its signature scheme is `{scheme}`, and only `hmac-sha256` is spoken here"
            ));
        }
        let ip = file["ip"].as_str().unwrap_or("127.0.0.1");
        let ip: IpAddr = match ip {
            "localhost" => IpAddr::from([127, 0, 0, 1]),
            "*" => IpAddr::from([0, 0, 0, 0]),
            ip => ip
                .parse()
                .map_err(|_| format!("its `ip` is `{ip}`, which is no address"))?,
        };
        let address = |field: &str| {
            let port = file[field].as_u64().and_then(|p| u16::try_from(p).ok());
            port.map(|port| SocketAddr::new(ip, port))
                .ok_or_else(|| format!("its `{field}` is no port: {}", file[field]))
        };
        Ok(Connection {
            shell: address("shell_port")?,
            control: address("control_port")?,
            stdin: address("stdin_port")?,
            iopub: address("iopub_port")?,
            heartbeat: address("hb_port")?,
            key: file["key"].as_str().unwrap_or("").to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of "Making kernels for Jupyter", section "Connection files".
    const EXAMPLE: &str = r#"{
      "control_port": 50160, "shell_port": 57503, "transport": "tcp",
      "signature_scheme": "hmac-sha256", "stdin_port": 52597, "hb_port": 42540,
      "ip": "127.0.0.1", "iopub_port": 40885, "key": "a0436f6c-1916-498b-8eb9-e81ab9368e84"
    }"#;

    #[test]
    fn the_example_of_the_protocol_reads() {
        let connection = Connection::parse(EXAMPLE).unwrap();
        assert_eq!(connection.shell.to_string(), "127.0.0.1:57503");
        assert_eq!(connection.heartbeat.port(), 42540);
        assert!(connection.key.starts_with("a0436f6c"));
    }

    #[test]
    fn what_cannot_be_served_is_said() {
        for (from, to, said) in [
            ("\"tcp\"", "\"ipc\"", "its transport is `ipc`"),
            ("hmac-sha256", "hmac-md5", "signature scheme is `hmac-md5`"),
            ("57503", "70000", "its `shell_port` is no port: 70000"),
            ("127.0.0.1", "nowhere", "its `ip` is `nowhere`"),
            ("{", "[", "it is no JSON"),
        ] {
            let error = Connection::parse(&EXAMPLE.replacen(from, to, 1)).err();
            assert!(error.as_ref().unwrap().contains(said), "{error:?}");
        }
    }
}

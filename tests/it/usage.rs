//! Asked wrongly: code 2, and what would be right.

#[test]
fn help_and_version_go_to_stdout_with_0() {
    ran!([] "--help" => 0, stdout "motors");
    ran!([] "--version" => 0, stdout "stillohm 0.");
}

#[test]
fn an_unknown_command_is_2_with_the_nearest() {
    let ran = ran!([] "motor" => 2, stderr "motors");
    assert_eq!(ran.stdout, "");
    ran!([] => 2);
}

#[test]
fn a_wrong_key_in_the_configuration_names_file_line_key_and_what_is_allowed() {
    ran!([("stillohm.toml", "# ours\n[web]\nlisen = \"127.0.0.1:7845\"\n")] "motors" "show" => 2,
        stderr "stillohm.toml:3:1: unknown field `lisen`, expected one of `listen`, `token`, `commands`");
}

#[test]
fn another_address_without_a_token_is_2_and_says_token() {
    ran!([("stillohm.toml", "[web]\nlisten = \"0.0.0.0:7845\"\n")] "motors" "show" => 2, stderr "token");
}

#[test]
fn a_configuration_that_is_not_there_is_2() {
    ran!([] "motors" "show" "--config" "other.toml" => 2, stderr "other.toml: cannot be read");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    use std::io::Read as _;
    use std::process::Stdio;
    let mut motors = String::from(super::motors::HEADER);
    for n in 0..20_000 {
        motors += &format!("pond-{n},two_wire,230,20,2.2,2.6,,,,,no,,plate\n");
    }
    let folder = crate::run::Folder::new(&[("motors.csv", &motors)]);
    let mut child = folder
        .command(&["motors", "show"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    let mut first = [0; 4];
    child
        .stdout
        .take()
        .expect("piped")
        .read_exact(&mut first)
        .expect("something is there");
    // Its reader is gone here: more than a pipe holds is still to come.
    let output = child.wait_with_output().expect("ends");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}
